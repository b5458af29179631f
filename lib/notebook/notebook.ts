/** A multi-line text of a notebook file: whole, or one item per line. */
export type NotebookText = string | string[];

/** What an executed cell shows; fields beyond these are kept. */
export type NotebookOutput =
  | {
    output_type: "stream";
    name: "stdout" | "stderr";
    text: NotebookText;
    [key: string]: unknown;
  }
  | {
    output_type: "display_data";
    data: Record<string, unknown>;
    metadata: Record<string, unknown>;
    [key: string]: unknown;
  }
  | {
    output_type: "execute_result";
    execution_count: number | null;
    data: Record<string, unknown>;
    metadata: Record<string, unknown>;
    [key: string]: unknown;
  }
  | {
    output_type: "error";
    ename: string;
    evalue: string;
    traceback: string[];
    [key: string]: unknown;
  };

/** A cell of a notebook file; fields beyond these are kept. */
export interface NotebookCell {
  /** Kind of the cell. */
  cell_type: "code" | "markdown" | "raw";
  /** Unique in the notebook; 1 to 64 of letters, digits, `-` and `_`. */
  id: string;
  /** Metadata of the cell. */
  metadata: Record<string, unknown>;
  /** Its text. */
  source: NotebookText;
  /** Code cells only. */
  execution_count?: number | null;
  /** Code cells only. */
  outputs?: NotebookOutput[];
  /** Further fields, which are kept. */
  [key: string]: unknown;
}

/**
 * A notebook file of the format nbformat 4.5 (Jupyter's notebook file format);
 * fields beyond these are kept.
 */
export interface Notebook {
  /** Version of the format. */
  nbformat: number;
  /** Minor version of the format. */
  nbformat_minor: number;
  /** Metadata of the notebook. */
  metadata: Record<string, unknown>;
  /** Its cells, from top to bottom. */
  cells: NotebookCell[];
  /** Further fields, which are kept. */
  [key: string]: unknown;
}

/** A text in one piece. */
export function joinText(text: NotebookText): string {
  return typeof text === "string" ? text : text.join("");
}

/** A text as notebook files store it: one item per line, with line ends. */
export function splitText(text: string): string[] {
  return text === "" ? [] : text.match(/[^\n]*\n|[^\n]+$/g) ?? [];
}

/** Tags of a cell. */
export function cellTags(cell: NotebookCell): string[] {
  const tags = cell.metadata["tags"];
  return Array.isArray(tags)
    ? tags.filter((tag) => typeof tag === "string")
    : [];
}
