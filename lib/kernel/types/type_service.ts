import ts from "typescript";
import { CellModules } from "./cell_modules.ts";
import { moduleHost, type ModulePlace } from "./module_host.ts";
import { noteText } from "./note_text.ts";

/** A cell that threw. */
export interface FailedCell {
  readonly code: string;
  /** Lines that the error passed, from 1. */
  readonly lines: readonly number[];
  /** Name of the error. */
  readonly ename: string;
}

/** What the type check says of a line. */
export interface TypeNote {
  /** Line in the cell, from 1. */
  readonly line: number;
  readonly text: string;
}

/** Most notes under one error. */
const mostNotes = 3;

/** Says what types say of cells. Nothing is run. */
export class TypeService {
  readonly #cells = new CellModules();
  readonly #service: ts.LanguageService;
  #at: string;

  constructor(place: ModulePlace) {
    this.#at = this.#cells.put("").path;
    this.#service = ts.createLanguageService(
      moduleHost(this.#cells, place, () => [this.#at]),
      ts.createDocumentRegistry(),
    );
  }

  /** Adds a cell that has run. */
  add(code: string): void {
    this.#cells.add(code);
    this.#at = this.#cells.put("").path;
  }

  /** Forgets the cells. */
  clear(): void {
    this.#cells.clear();
    this.#at = this.#cells.put("").path;
  }

  /** Reads what the cells import, so that the next question is answered fast. */
  warm(): void {
    for (const path of this.#cells.last(20)) {
      this.#at = path;
      this.#service.getSemanticDiagnostics(path);
    }
  }

  /** What the check says of the statements in which a cell failed. */
  notes({ code, lines, ename }: FailedCell): TypeNote[] {
    this.#at = this.#cells.put(code).path;
    const file = this.#service.getProgram()?.getSourceFile(this.#at);
    if (!file) return [];
    const ranges = lines.flatMap((line) => statementsOn(file, line));
    const notes: TypeNote[] = [];
    for (const finding of this.#service.getSemanticDiagnostics(this.#at)) {
      const { start = -1 } = finding;
      if (!ranges.some(([from, to]) => from <= start && start < to)) continue;
      const text = noteText(finding, ename);
      if (text === null || notes.some((note) => note.text === text)) continue;
      const { line } = file.getLineAndCharacterOfPosition(start);
      notes.push({ line: line + 1, text });
    }
    return notes.slice(0, mostNotes);
  }

  /** Names that can follow a dot, by the types of the cell. */
  members(code: string, cursor: number): string[] {
    this.#at = this.#cells.put(code).path;
    const found = this.#service.getCompletionsAtPosition(
      this.#at,
      cursor,
      undefined,
    );
    if (!found?.isMemberCompletion) return [];
    return found.entries.map(({ name }) => name);
  }
}

/** The innermost statements that touch a line. */
function statementsOn(file: ts.SourceFile, line: number): [number, number][] {
  const starts = file.getLineStarts();
  const from = starts[line - 1];
  if (from === undefined) return [];
  const to = starts[line] ?? file.getEnd();
  const found: [number, number][] = [];
  const visit = (node: ts.Node): boolean => {
    const start = node.getStart(file);
    if (start >= to || node.getEnd() <= from) return false;
    let inner = false;
    ts.forEachChild(node, (child) => void (inner = visit(child) || inner));
    if (!inner && ts.isStatement(node) && !ts.isBlock(node)) {
      found.push([start, node.getEnd()]);
      return true;
    }
    return inner;
  };
  ts.forEachChild(file, (node) => void visit(node));
  return found;
}
