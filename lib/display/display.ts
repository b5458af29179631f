import { currentCell } from "./cell.ts";
import { bundleMetadata } from "./bundle_metadata.ts";
import { bundleOfValue, consoleForm, displayMethod } from "./value_bundle.ts";

/**
 * Shows a value under the running cell of a notebook: results, figures, tables,
 * danfojs data frames, rows, or anything with a `Jupyter.display` method.
 * Outside a notebook it prints the console form.
 *
 * @param value Any value.
 *
 * @example
 * ```ts
 * import { display, table } from "fringebook";
 *
 * await display(table([{ current: 0.04 }], { units: { current: "A" } }));
 * ```
 */
export async function display(value: unknown): Promise<void> {
  const cell = currentCell();
  if (cell === null) {
    console.log(await consoleText(value));
    return;
  }
  const data = await bundleOfValue(value);
  cell.publish({
    type: "display_data",
    data,
    metadata: bundleMetadata(data),
    displayId: null,
  });
}

async function consoleText(value: unknown): Promise<string> {
  if (displayMethod(value) !== null) return consoleForm(value);
  const plain = (await bundleOfValue(value))["text/plain"];
  return typeof plain === "string" ? plain : consoleForm(value);
}
