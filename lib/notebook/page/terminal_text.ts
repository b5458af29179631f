/**
 * What a terminal would show of a text: carriage returns and backspaces write
 * over what stood there, colour codes are left out.
 */
export function terminalText(text: string): string {
  // deno-lint-ignore no-control-regex
  const plain = text.replace(/\x1b\[[0-9;?]*[A-Za-z]/g, "");
  if (!/[\r\b]/.test(plain)) return plain;
  return plain.split("\n").map((line) => {
    const cells: string[] = [];
    let at = 0;
    for (const character of line.replace(/\r$/, "")) {
      if (character === "\r") at = 0;
      else if (character === "\b") at = Math.max(0, at - 1);
      else cells[at++] = character;
    }
    return cells.join("");
  }).join("\n");
}
