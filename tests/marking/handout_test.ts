import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { join } from "@std/path";
import {
  deriveCaptureKey,
  makeHandout,
  readKey,
} from "../../lib/marking/mod.ts";
import {
  assignment,
  classSeed,
  makeCaptures,
  questions,
} from "./small_class.ts";

describe("a handout", () => {
  let root: string;
  beforeEach(async () => {
    root = await Deno.makeTempDir();
  });
  afterEach(() => Deno.remove(root, { recursive: true }));

  const make = (students: string[], more = {}, notebook = assignment()) =>
    makeHandout(notebook, {
      students,
      outputFolder: join(root, "out"),
      teacherFolder: join(root, "teacher"),
      fileName: "task.ipynb",
      questions,
      makeCaptures,
      ...more,
    });
  const text = (...path: string[]) => Deno.readTextFile(join(root, ...path));

  it("adds students to one that is there and touches nothing else", async () => {
    const first = await make(["Ada"]);
    await Deno.writeTextFile(join(root, "out", "Ada", "task.ipynb"), "edited");
    const sameText = assignment();
    sameText.cells[0]!.id = "another-id";
    const second = await make(["Ada", "Emmy"], {}, sameText);
    expect(second.added).toEqual(["Emmy"]);
    expect(second.kept).toEqual(["Ada"]);
    expect(await text("out", "Ada", "task.ipynb")).toBe("edited");
    expect(second.key.classSeed).toBe(first.key.classSeed);
    expect(second.key.students[0]).toEqual(first.key.students[0]);
    expect(await readKey(join(root, "teacher", "key.json"))).toEqual(
      second.key,
    );
  });
  it("is refused where another would be overwritten, and changes nothing", async () => {
    await make(["Ada"]);
    const before = await text("teacher", "key.json");
    const other = assignment();
    other.cells[0]!.source = "# Another question";
    await expect(make(["Ada"], {}, other)).rejects.toThrow(
      "another version of the assignment",
    );
    await expect(make(["Ada"], { fileName: "second.ipynb" })).rejects.toThrow(
      "of the assignment 'task.ipynb'",
    );
    await expect(make(["Ada"], { classSeed })).rejects.toThrow("another seed");
    expect(await text("teacher", "key.json")).toBe(before);
    await Deno.remove(join(root, "teacher"), { recursive: true });
    await expect(make(["Ada"])).rejects.toThrow("does not know: Ada");
    expect(await text("out", "Ada", "task.ipynb")).toMatch(/nbformat/);
  });
  it("has a key that its owner alone can read, and a seed that cannot be tried", async () => {
    const { key } = await make(["Ada"]);
    expect(key.classSeed).toMatch(/^[0-9a-f]{64}$/);
    if (Deno.build.os !== "windows") {
      const { mode } = await Deno.stat(join(root, "teacher", "key.json"));
      expect(mode! & 0o777).toBe(0o600);
    }
    await expect(make(["Emmy"], { classSeed: "12345" })).rejects.toThrow(
      "128 bits",
    );
  });
  it("of a run that was killed is finished by the next", async () => {
    const { key } = await make(["Ada", "Emmy"], { classSeed });
    const data = join(root, "out", "Emmy", "data", "my-distance.csv");
    const before = await Deno.readTextFile(data);
    // Killed between the key and the folder, with a draft left
    const draft = join(root, "out", ".Emmy.999999999.00000000.part");
    await Deno.rename(join(root, "out", "Emmy"), draft);
    await Deno.utime(draft, new Date(0), new Date(0));
    const again = await make(["Ada", "Emmy"]);
    expect(again.added).toEqual(["Emmy"]);
    expect(again.key).toEqual(key);
    expect(await Deno.readTextFile(data)).toBe(before);
    const names = [...Deno.readDirSync(join(root, "out"))].map((e) => e.name);
    expect(names.sort()).toEqual(["Ada", "Emmy"]);
  });
});

describe("the key of a student's captures", () => {
  it("is HMAC-SHA-256 of the name under the secret of the class", async () => {
    // openssl dgst -sha256 -mac hmac -macopt key:$(printf '05%.0s' {1..32})
    expect((await deriveCaptureKey(classSeed, "Ada")).toHex()).toBe(
      "6a336d2b34864a78434f0d045cc6ee80e4b4a7cfa3d66ff9c6cb94f9ac93a3d2",
    );
  });
});
