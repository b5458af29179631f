/** Splits a line at a delimiter; quoted fields keep their delimiters. */
export function splitLine(line: string, delimiter: string): string[] {
  if (delimiter === " ") return line.trim().split(/[ \t]+/);
  if (!line.includes('"')) {
    return line.split(delimiter).map((field) => field.trim());
  }
  const fields: string[] = [];
  let field = "";
  let quoted = false;
  for (const character of line) {
    if (character === '"') {
      quoted = !quoted;
      field += character;
    } else if (character === delimiter && !quoted) {
      fields.push(field.trim());
      field = "";
    } else {
      field += character;
    }
  }
  fields.push(field.trim());
  return fields;
}

/** Takes the quotes around a field off. */
export function unquote(field: string): string {
  const text = field.trim();
  return text.length >= 2 && text[0] === '"' && text.at(-1) === '"'
    ? text.slice(1, -1).replaceAll('""', '"').trim()
    : text;
}

/** Byte-order mark or none: the encoding of a text file. */
export type TextEncoding = "UTF-8" | "UTF-16LE" | "UTF-16BE" | "Windows-1252";

/** Text of some bytes: UTF-8, or Windows-1252 where that fails. */
export function textOf(bytes: Uint8Array): {
  text: string;
  encoding: TextEncoding;
} {
  try {
    return {
      text: new TextDecoder("utf-8", { fatal: true }).decode(bytes),
      encoding: "UTF-8",
    };
  } catch {
    return {
      text: new TextDecoder("windows-1252").decode(bytes),
      encoding: "Windows-1252",
    };
  }
}

/** Whether the first bytes look like text: no NUL, hardly any control bytes. */
export function looksLikeText(bytes: Uint8Array): boolean {
  const length = Math.min(bytes.length, 4096);
  let control = 0;
  for (let index = 0; index < length; index++) {
    const byte = bytes[index]!;
    if (byte === 0) return false;
    if (byte < 32 && byte !== 9 && byte !== 10 && byte !== 13) control++;
    if (byte === 127) control++;
  }
  return control <= length * 0.01;
}
