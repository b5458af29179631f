import { parse } from "@std/csv/parse";

/**
 * Rows of a table that somebody wrote by hand or with a spreadsheet: fields parted
 * by commas, semicolons or tabs, whichever stands in the first line. Fields come
 * without the spaces around them, lines without any field are left out.
 *
 * @param text The text, with or without a byte order mark.
 * @param refuse Makes the error from the reason, "it is no table: …".
 * @returns The rows, the heads first.
 */
export function tableRows(
  text: string,
  refuse: (why: string) => Error,
): string[][] {
  const own = text.replace(/^\uFEFF/, "");
  const [head = ""] = own.split("\n");
  const separator = [";", "\t"].find((mark) => head.includes(mark)) ?? ",";
  try {
    const rows = parse(own, { separator, fieldsPerRecord: -1 }) as string[][];
    return rows.map((row) => row.map((field) => field.trim()))
      .filter((row) => row.some((field) => field !== ""));
  } catch (error) {
    throw refuse(
      `it is no table: ${error instanceof Error ? error.message : error}`,
    );
  }
}
