/** The words of the safety. */
export const safetyWords = {} as const;
