/** The file's name in quotes, or "the capture", for messages. */
export function place(fileName: string | null): string {
  return fileName === null ? "the capture" : `'${fileName}'`;
}

/** At most 40 characters of a text, control characters made visible. */
export function shorten(text: string): string {
  // deno-lint-ignore no-control-regex
  const clean = text.trim().replace(/[\u0000-\u001f\u007f-\u009f]/g, "�");
  return clean.length > 40 ? `${clean.slice(0, 40)}…` : clean;
}
