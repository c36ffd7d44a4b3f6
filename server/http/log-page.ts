/** How many facts one answer of the log holds. */
export const logPageDefault = 500;
export const logPageMost = 1_000;
