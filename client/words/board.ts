/** The words of the board. */
export const boardWords = {} as const;
