import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { join } from "@std/path";
import {
  mergeGrants,
  projectFolder,
  readGrants,
} from "../../../lib/kernel/session/mod.ts";
import { dependencyCache } from "../../../lib/kernel/session/dependency_cache.ts";
import { TestSession } from "./harness.ts";

describe("a notebook without grants", () => {
  let session: TestSession;

  beforeAll(async () => {
    session = await TestSession.create();
  });
  afterAll(() => session.close());

  it("reads and writes its own folder, and reads the project", async () => {
    expect(
      (await session.run(
        "await Deno.writeTextFile('mine.txt', 'a'); await Deno.readTextFile('./mine.txt')",
      )).value,
    ).toBe('"a"');
    expect(
      (await session.run(
        `(await Deno.stat(${
          JSON.stringify(join(projectFolder, "deno.json"))
        })).isFile`,
      )).value,
    ).toBe("true");
    const out = JSON.stringify(
      join(projectFolder, "out", "permission_test.txt"),
    );
    expect(
      (await session.run(
        `await Deno.mkdir(${
          JSON.stringify(join(projectFolder, "out"))
        }, { recursive: true }); await Deno.writeTextFile(${out}, 'a'); await Deno.remove(${out})`,
      )).error,
    ).toBe("");
  });

  const refused: Record<string, { code: string; what: string; flag: string }> =
    {
      "reading elsewhere": {
        code: "await Deno.readTextFile('/etc/passwd')",
        what: "read /etc/passwd",
        flag: "--allow-read=/etc/passwd",
      },
      "writing elsewhere": {
        code: "await Deno.writeTextFile('/tmp/elsewhere.txt', 'a')",
        what: "write /tmp/elsewhere.txt",
        flag: "--allow-write=/tmp/elsewhere.txt",
      },
      "writing the library": {
        code: `await Deno.writeTextFile(${
          JSON.stringify(join(projectFolder, "lib", "new.ts"))
        }, 'a')`,
        what: "lib/new.ts",
        flag: "--allow-write=",
      },
      "the network": {
        code: "await fetch('http://example.org')",
        what: "reach example.org:80",
        flag: "--allow-net=example.org:80",
      },
      "a socket": {
        code: "await Deno.connect({ port: 9 })",
        what: "reach",
        flag: "--allow-net=",
      },
      "the environment": {
        code: "Deno.env.get('HOME')",
        what: "environment variable HOME",
        flag: "--allow-env=HOME",
      },
      "a program": {
        code: "new Deno.Command('ls').outputSync()",
        what: "start the program ls",
        flag: "--allow-run=ls",
      },
      "a library of the machine": {
        code: "Deno.dlopen('./x.so', {})",
        what: "load the library",
        flag: "--allow-ffi",
      },
      "facts of the machine": {
        code: "Deno.hostname()",
        what: "ask the system for hostname",
        flag: "--allow-sys=hostname",
      },
      "modules from elsewhere": {
        code: "await import('https://example.org/x.ts')",
        what: "import modules from example.org:443",
        flag: "--allow-import=example.org:443",
      },
    };
  for (const [what, { code, what: named, flag }] of Object.entries(refused)) {
    it(`is refused ${what}, and told what and how to grant it`, async () => {
      const { error } = await session.run(code);
      expect(error).toContain("A notebook may not");
      expect(error).toContain(named);
      expect(error).toContain(flag);
      expect(error).toContain("notebook_permissions.json");
    });
  }

  it("cannot grant itself anything", async () => {
    const { error } = await session.run(
      "await Deno.writeTextFile('notebook_permissions.json', '{}')",
    );
    expect(error).toContain("is protected from notebooks");
    expect(
      (await session.run(
        "(await Deno.permissions.request({ name: 'net' })).state",
      ))
        .value,
    ).toBe('"denied"');
    expect(
      (await session.run(
        `await Deno.writeTextFile(${
          JSON.stringify(join(projectFolder, "notebook_permissions.json"))
        }, '{}')`,
      )).error,
    ).toContain("is protected");
  });

  it("in the home folder does not write what starts programs, nor read keys", async () => {
    const home = await Deno.makeTempDir();
    const before = Deno.env.get("HOME");
    const cache = Deno.env.get("DENO_DIR");
    // The true cache must be found: only the home is another one.
    Deno.env.set("DENO_DIR", dependencyCache());
    Deno.env.set("HOME", home);
    await Deno.mkdir(join(home, ".ssh"));
    await Deno.writeTextFile(join(home, ".ssh", "id"), "key");
    const inHome = new TestSession(home);
    try {
      expect(
        (await inHome.run("await Deno.writeTextFile('mine.txt', '')")).error,
      )
        .toBe("");
      for (
        const code of [
          "await Deno.writeTextFile('.bashrc', '')",
          "await Deno.mkdir('.config/autostart', { recursive: true })",
          "await Deno.mkdir('.local/share/jupyter/kernels', { recursive: true })",
          "await Deno.readTextFile('.ssh/id')",
        ]
      ) expect((await inHome.run(code)).error).toContain("NotCapable");
    } finally {
      if (before) Deno.env.set("HOME", before);
      if (cache) Deno.env.set("DENO_DIR", cache);
      else Deno.env.delete("DENO_DIR");
      await inHome.close();
    }
  });

  it("loads packages that look into the environment", async () => {
    expect(
      (await session.run(
        "import process from 'node:process'; String(process.env.HOME)",
      )).value,
    ).toBe('"undefined"');
  });
});

describe("grants of the person", () => {
  it("come with the session's options", async () => {
    const folder = await Deno.makeTempDir();
    const file = join(folder, "outside.txt");
    await Deno.writeTextFile(file, "granted");
    const session = await TestSession.create({
      grants: { read: [file], env: ["HOME"] },
    });
    expect(
      (await session.run(`await Deno.readTextFile(${JSON.stringify(file)})`))
        .value,
    ).toBe('"granted"');
    expect((await session.run("typeof Deno.env.get('HOME')")).value).toBe(
      '"string"',
    );
    expect((await session.run("Deno.env.get('PATH')")).error).toContain("PATH");
    await session.close();
    await Deno.remove(folder, { recursive: true });
  });

  it("come with a file outside of the notebook, for its folder or for all", async () => {
    const folder = await Deno.makeTempDir();
    const grantFile = join(folder, "notebook_permissions.json");
    await Deno.writeTextFile(
      grantFile,
      JSON.stringify({
        "*": { sys: ["hostname"] },
        "notebooks": { env: ["HOME"] },
        "others": { net: ["example.org"] },
      }),
    );
    expect(await readGrants(grantFile, join(folder, "notebooks", "deep")))
      .toEqual({ sys: ["hostname"], env: ["HOME"] });
    expect(await readGrants(grantFile, join(folder, "notebooks2"))).toEqual({
      sys: ["hostname"],
    });
    expect(await readGrants(join(folder, "none.json"), folder)).toEqual({});
    const session = await TestSession.create({ grantFile });
    expect((await session.run("typeof Deno.hostname()")).value).toBe(
      '"string"',
    );
    await session.close();
    await Deno.remove(folder, { recursive: true });
  });

  it("are refused where the file is not of the form, with the reason", async () => {
    const folder = await Deno.makeTempDir();
    const file = join(folder, "notebook_permissions.json");
    for (
      const [text, reason] of [
        ["{", "it is not JSON"],
        ["[]", "it is not an object"],
        ['{"*": 5}', '"*" is not an object'],
        ['{"*": {"everything": ["all"]}}', '"everything" is not one of'],
        ['{"*": {"net": "all"}}', '"net" is not a list'],
      ] as const
    ) {
      await Deno.writeTextFile(file, text);
      await expect(readGrants(file, folder)).rejects.toThrow(reason);
    }
    // The person reads it in the cell; the next try finds the file mended.
    const session = await TestSession.create({ grantFile: file });
    expect((await session.run("1")).error).toContain("is not a list");
    await Deno.writeTextFile(file, "{}");
    expect((await session.run("1")).value).toBe("1");
    await session.close();
    await Deno.remove(folder, { recursive: true });
  });

  it("are not waited for where a pipe lies in their place", async () => {
    if (Deno.build.os === "windows") return;
    const folder = await Deno.makeTempDir();
    try {
      const file = join(folder, "grants.json");
      await new Deno.Command("mkfifo", { args: [file] }).output();
      await expect(readGrants(file, folder)).rejects.toThrow("a pipe");
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });

  it("add up", () => {
    expect(mergeGrants({ net: ["a"] }, { net: ["b"], run: ["ls"] })).toEqual({
      net: ["a", "b"],
      run: ["ls"],
    });
  });
});
