/** Takes a line for the person who runs the kernel's server. */
export type Log = (text: string) => void;

/** Writes lines to stderr, marked as the kernel's. */
export const logToStderr: Log = (text) => {
  console.error(`[fringebook kernel] ${text}`);
};
