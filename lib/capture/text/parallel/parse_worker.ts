/**
 * Parses pieces of a text file in a thread of its own.
 *
 * @module
 */
import { CaptureFormatError } from "../../../errors/mod.ts";
import { fileSource } from "../../file/byte_source.ts";
import { type TableLayout, TableParser } from "../table_parser.ts";
import { Claims } from "./claims.ts";
import { countPieces, pieceMemory, type Pieces, readPiece } from "./pieces.ts";

/** What a worker is told. */
export interface ParseOrder {
  readonly path: string;
  readonly layout: TableLayout;
  readonly pieces: Pieces;
  readonly claims: SharedArrayBuffer;
  /** Mean bytes per row. */
  readonly rowSize: number;
}

/** The rows of one piece. */
export interface ParsedPiece {
  readonly index: number;
  /** One array per field; empty for skipped ones. */
  readonly columns: readonly Float64Array[];
  readonly rowCount: number;
  readonly missingCount: number;
  /** Rows of the piece before which there was a blank line. */
  readonly blanks: readonly number[];
  /** Lines of the piece. */
  readonly lineCount: number;
}

/** What a worker answers: a piece, or `null` when it is done. */
export type ParseAnswer = ParsedPiece | null;

const scope = self as unknown as {
  onmessage: (event: MessageEvent<ParseOrder>) => void;
  postMessage(message: ParseAnswer, transfer?: Transferable[]): void;
};

scope.onmessage = ({ data: { path, layout, pieces, claims, rowSize } }) => {
  const source = fileSource(path);
  try {
    const memory = pieceMemory();
    const shared = new Claims(countPieces(pieces), claims);
    for (let index = shared.back(); index >= 0; index = shared.back()) {
      const piece = readPiece(source, pieces, index, memory);
      if (piece === null) continue;
      const size = piece.end - piece.start;
      const parser = new TableParser(
        layout,
        0,
        null,
        Math.ceil(size / rowSize * 1.02) + 64,
      );
      // A row before the first one, so that blank lines there are noticed.
      parser.rowCount = 1;
      try {
        parser.parse(piece.bytes, piece.start, piece.end);
      } catch (error) {
        // The main thread parses it again: it knows headings and line numbers.
        if (error instanceof CaptureFormatError) continue;
        throw error;
      }
      const columns = parser.columns.map((column) =>
        column.length === 0 ? column : column.subarray(1, parser.rowCount)
      );
      scope.postMessage({
        index,
        columns,
        rowCount: parser.rowCount - 1,
        missingCount: parser.missingCount,
        blanks: parser.blanks.map((row) => row - 1),
        lineCount: parser.line,
      }, columns.map(({ buffer }) => buffer as ArrayBuffer));
    }
  } finally {
    source.close();
  }
  scope.postMessage(null);
};
