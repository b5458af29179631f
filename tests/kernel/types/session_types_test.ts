import { describe, expect, it } from "vitest";
import { fromFileUrl } from "@std/path";
import { SessionInterpreter } from "../../../lib/kernel/session/mod.ts";
import type { Exchange } from "../../../lib/kernel/mod.ts";
import { startTestKernel } from "../conformance/test_kernel.ts";

const notebookFolder = fromFileUrl(new URL("./fixtures/", import.meta.url));
const typeNotes = (exchange: Exchange) =>
  (exchange.reply?.content["traceback"] as string[] ?? [])
    .filter((line) => line.startsWith("Type check"));

/** Asks again until there is an answer; a busy machine takes long. */
async function inTime(
  ask: () => Promise<Exchange>,
  isThere: (exchange: Exchange) => boolean,
): Promise<Exchange> {
  for (let n = 0;; n++) {
    const exchange = await ask();
    if (isThere(exchange) || n === 300) return exchange;
    await new Promise((resolve) => setTimeout(resolve, 200));
  }
}

describe("a kernel with type notes", () => {
  it("puts what types say under an error, and completes by type", async () => {
    const interpreter = new SessionInterpreter({
      notebookFolder,
      typeNotes: true,
    });
    await using kernel = await startTestKernel({ interpreter });
    const { client } = kernel;
    await client.execute('import { shape, size } from "./shapes.ts"');
    const wrong = "1;\nsize({ widht: 5 })";
    // The first error starts the check and does not wait for it.
    expect(typeNotes(await client.execute(wrong))).toEqual([]);
    const failed = await inTime(
      () => client.execute(wrong),
      (exchange) => typeNotes(exchange).length > 0,
    );
    const note =
      "Type check, line 2: 'widht' does not exist in ShapeOptions; did you mean 'width'?";
    expect(typeNotes(failed)).toEqual([note]);
    const published = failed.published.find(({ header }) =>
      header.msg_type === "error"
    );
    expect((published?.content["traceback"] as string[]).at(-1)).toBe(note);
    expect(failed.reply?.content["evalue"]).toBe("There is no width");

    const well = await client.execute("// deno-lint-ignore\nshape({ a: 5 })");
    expect(well.reply?.content["status"]).toBe("ok");
    const code = "const other = shape({}); other.gr";
    const completed = await inTime(
      () =>
        client.request("complete_request", { code, cursor_pos: code.length }),
      ({ reply }) => (reply?.content["matches"] as string[]).length > 0,
    );
    expect(completed.reply?.content["matches"]).toEqual(["grow"]);
    expect(completed.reply?.content["cursor_start"]).toBe(code.length - 2);
  });
});
