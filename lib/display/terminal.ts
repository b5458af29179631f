/** Whether a stream of the process is a terminal, not a file or a pipe. */
export function isTerminal(stream: "stdout" | "stderr"): boolean {
  try {
    return Deno[stream].isTerminal();
  } catch {
    return false;
  }
}

/** Columns of the terminal; 80 where there is none. */
export function terminalWidth(): number {
  try {
    const { columns } = Deno.consoleSize();
    return columns > 0 ? columns : 80;
  } catch {
    return 80;
  }
}
