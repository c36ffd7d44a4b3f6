/** The words of the tablet. */
export const tabletWords = {} as const;
