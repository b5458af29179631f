/** One column of a text file. */
export interface TextColumn {
  /** Heading, with the unit as the instrument writes it. */
  readonly heading: string;
  /** Values, in SI. */
  readonly samples: ArrayLike<number>;
  /** Divide by this for the unit of the heading. */
  readonly unit: number;
  /** Digits after the decimal mark. */
  readonly digits: number;
}

/** How an instrument writes text. */
export interface TextStyle {
  /** Between fields. */
  readonly delimiter: "," | ";" | "\t";
  /** Decimal mark. */
  readonly decimal: "." | ",";
  /** End of a line. */
  readonly lineEnd: "\n" | "\r\n";
  /** Whether a byte order mark comes first. */
  readonly byteOrderMark: boolean;
}

/** Writes lines as a person's table has them. */
export function writeLines(lines: readonly string[]): Uint8Array<ArrayBuffer> {
  return new TextEncoder().encode(lines.join("\n") + "\n");
}

/** Writes a table as an instrument would: lines of metadata, headings, numbers. */
export function writeText(
  metadata: readonly string[],
  columns: readonly TextColumn[],
  style: TextStyle,
): Uint8Array<ArrayBuffer> {
  const { delimiter, decimal, lineEnd, byteOrderMark } = style;
  const lines = [
    ...metadata,
    columns.map(({ heading }) => heading).join(delimiter),
  ];
  const count = columns[0]?.samples.length ?? 0;
  for (let i = 0; i < count; i++) {
    const fields = columns.map(({ samples, unit, digits }) => {
      const text = (samples[i]! / unit).toFixed(digits);
      return decimal === "." ? text : text.replace(".", decimal);
    });
    lines.push(fields.join(delimiter));
  }
  const text = lines.join(lineEnd) + lineEnd;
  return new TextEncoder().encode(byteOrderMark ? "\ufeff" + text : text);
}
