import { readTextUpTo } from "../runtime/mod.ts";
import type { Notebook, NotebookCell } from "./notebook.ts";

/** Largest notebook file that is read, in bytes. */
const largestNotebook = 2 ** 28;

/**
 * Reads a notebook from the text of its file. Notebooks of the minor versions
 * 4.0 to 4.4 are brought to 4.5: cells without an id get one.
 *
 * @param text JSON text.
 * @param fileName For messages.
 * @returns The notebook; unknown fields are kept.
 * @throws {SyntaxError} If the text is not a notebook of version 4.
 *
 * @example
 * ```ts
 * import { parseNotebook } from "fringebook/notebook";
 * import { expect } from "vitest";
 *
 * const notebook = parseNotebook('{"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": []}');
 * expect(notebook.cells).toEqual([]);
 * ```
 */
export function parseNotebook(text: string, fileName = "notebook"): Notebook {
  const fail = (what: string): never => {
    throw new SyntaxError(`Cannot read the notebook '${fileName}' as ${what}`);
  };
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch (error) {
    fail(
      text.trim() === ""
        ? "it is empty"
        : `it is not JSON: ${(error as Error).message}`,
    );
  }
  if (!isRecord(value)) return fail("it is not a JSON object");
  const { nbformat, cells } = value;
  if (nbformat !== 4) {
    return fail(
      `its format version must be 4: current value is ${
        JSON.stringify(nbformat)
      }. Open it in a notebook editor and save it again`,
    );
  }
  if (!Array.isArray(cells)) return fail("it has no list of cells");
  const ids = new Set<string>();
  cells.forEach((cell, index) => {
    const where = `cell ${index + 1}`;
    if (!isRecord(cell)) return fail(`${where} is not an object`);
    if (!["code", "markdown", "raw"].includes(cell["cell_type"] as string)) {
      fail(
        `${where} has an unknown type: current value is ${
          JSON.stringify(cell["cell_type"])
        }`,
      );
    }
    if (!isText(cell["source"])) fail(`${where} has no source`);
    cell["metadata"] ??= {};
    if (!isRecord(cell["metadata"])) fail(`${where} has no metadata object`);
    if (cell["cell_type"] === "code") {
      cell["outputs"] ??= [];
      if (!Array.isArray(cell["outputs"])) fail(`${where} has no outputs list`);
      // A number, or it would reach pages as whatever it is
      if (!Number.isSafeInteger(cell["execution_count"])) {
        cell["execution_count"] = null;
      }
    }
    const { id } = cell;
    if (
      typeof id !== "string" || !/^[A-Za-z0-9_-]{1,64}$/.test(id) || ids.has(id)
    ) cell["id"] = newCellId(ids);
    ids.add(cell["id"] as string);
  });
  if (!isRecord(value["metadata"])) value["metadata"] = {};
  const minor = value["nbformat_minor"];
  value["nbformat_minor"] = typeof minor === "number" ? Math.max(5, minor) : 5;
  return value as unknown as Notebook;
}

/**
 * Reads a notebook file; see {@linkcode parseNotebook}.
 *
 * @throws {TypeError} If it is a folder, a pipe or a device.
 * @throws {RangeError} If it is larger than any notebook that can be opened.
 */
export async function readNotebook(path: string): Promise<Notebook> {
  return parseNotebook(await readTextUpTo(path, largestNotebook), path);
}

/** Makes a cell of the given type. */
export function createCell(
  type: NotebookCell["cell_type"],
  source: string,
  options: { id?: string; tags?: string[] } = {},
): NotebookCell {
  const { id = newCellId(new Set()), tags = [] } = options;
  return {
    cell_type: type,
    id,
    metadata: tags.length > 0 ? { tags } : {},
    source,
    ...(type === "code" ? { execution_count: null, outputs: [] } : {}),
  };
}

function newCellId(taken: ReadonlySet<string>): string {
  for (;;) {
    const id = crypto.randomUUID().slice(0, 8);
    if (!taken.has(id)) return id;
  }
}

function isText(value: unknown): boolean {
  return typeof value === "string" ||
    Array.isArray(value) && value.every((item) => typeof item === "string");
}

function isRecord(value: unknown): value is Record<string, unknown> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}
