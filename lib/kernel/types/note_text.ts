import ts from "typescript";

/** Longest text of a note. */
const longest = 300;

/** Of what is checked while a cell runs, or is so by the way cells are kept. */
const silent = new Set([
  // A name is not known: where that failed the error says it.
  ...[2304, 2503, 2580, 2584, 2591, 2867, 2868, 18004],
  // A module is not known: packages are taken for anything.
  ...[2307, 2792, 7016, 2732, 5097, 2691, 2846, 2882],
  // Declared twice, or `await` at the top: allowed in cells.
  ...[2300, 2451, 2440, 2484, 1375, 1378, 1431, 1432, 1184, 1192],
  // Advice about style and about code that never runs.
  ...[6133, 6192, 6196, 7027, 80001, 80002, 80003, 80004, 80007],
]);

/**
 * A finding of the type check in a few words.
 *
 * @param finding What the compiler found.
 * @param ename Name of the error that the cell threw.
 * @returns The words; `null` where the finding says nothing new.
 */
export function noteText(
  { code, messageText, category, relatedInformation = [] }: ts.Diagnostic,
  ename: string,
): string | null {
  if (category !== ts.DiagnosticCategory.Error || silent.has(code)) return null;
  // A name that only the runtime knows may be like another.
  if (code === 2552 && ename !== "ReferenceError") return null;
  const text = ts.flattenDiagnosticMessageText(messageText, "\n");
  const [first = "", second = ""] = text.split("\n").map((line) => line.trim());
  const awaits = relatedInformation.find(({ code }) => code === 2773);
  if (awaits) return cut(`${first} ${awaits.messageText}`);
  const mismatch = code === 2345 || code === 2322;
  return cut(
    unknownProperty(first) ?? (mismatch ? `${first} ${second}`.trim() : first),
  );
}

/** Shorter than the compiler says it, as this is the commonest mistake. */
function unknownProperty(text: string): string | null {
  const found =
    /^Object literal may only specify known properties, (?:but|and) '(.+?)' does not exist in type '(.+?)'\.(?: Did you mean to write '(.+?)'\?)?$/
      .exec(text);
  if (!found) return null;
  const [, name, type, near] = found;
  const remedy = near === undefined ? "" : `; did you mean '${near}'?`;
  return `'${name}' does not exist in ${type}${remedy}`;
}

function cut(text: string): string {
  return text.length <= longest ? text : `${text.slice(0, longest - 1)}…`;
}
