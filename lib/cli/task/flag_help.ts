import type { FlagSpec } from "./flag.ts";

/** Column at which what a flag does begins. */
const column = 34;
const width = 79;

/**
 * The lines of a help text that describe flags.
 *
 * @param spec The flags.
 * @returns Lines of at most 79 characters.
 */
export function flagHelp(spec: FlagSpec): string {
  return Object.entries(spec).map(([name, flag]) => {
    const { example, doc, whenMissing } = flag;
    const end = whenMissing === null
      ? " Needed."
      : whenMissing === ""
      ? ""
      : ` Default: ${whenMissing}.`;
    const head = `  --${name}${example === null ? "" : ` ${example}`}`;
    return inColumns(head, doc + end);
  }).join("\n");
}

/** A head on the left and its text on the right, in lines of 79 characters. */
export function inColumns(head: string, text: string): string {
  const lines: string[] = [];
  let line = "";
  for (const word of text.split(/\s+/)) {
    if (line !== "" && line.length + 1 + word.length > width - column) {
      lines.push(line);
      line = word;
    } else line = line === "" ? word : `${line} ${word}`;
  }
  lines.push(line);
  const [first = "", ...more] = lines;
  const begin = head.length < column - 1
    ? [head.padEnd(column) + first]
    : [head, " ".repeat(column) + first];
  return [...begin, ...more.map((each) => " ".repeat(column) + each)]
    .join("\n");
}
