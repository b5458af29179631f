import { describe, expect, it } from "vitest";
import { join } from "@std/path";
import { task } from "../../../lib/cli/kernel.ts";
import { performTask } from "../../../lib/cli/task/mod.ts";
import {
  createKernelspec,
  ICON_FILES,
  installKernelspec,
  jupyterPath,
  projectFolder,
  stableDenoPath,
  uninstallKernelspec,
  userDataFolder,
} from "../../../lib/kernel/install/mod.ts";

const spec = createKernelspec({ denoPath: "/opt/deno" });

function temporary(): string {
  return Deno.makeTempDirSync({ prefix: "fringebook-" });
}

/** Runs the command and gives its exit code and what it printed. */
async function run(...args: string[]) {
  const lines: string[] = [];
  const { log, error } = console;
  console.log = console.error = (line: string) => void lines.push(line);
  try {
    return { code: await performTask(task, args), text: lines.join("\n") };
  } finally {
    Object.assign(console, { log, error });
  }
}

const environment = (values: Record<string, string>) => (name: string) =>
  values[name];

describe("the places of Jupyter (jupyter_core's documentation, data files)", () => {
  it("are the user's folder by platform", () => {
    const linux = { os: "linux" as const };
    const home = { HOME: "/home/a" };
    expect(userDataFolder({ ...linux, env: environment(home) }))
      .toBe("/home/a/.local/share/jupyter");
    const xdg = environment({ ...home, XDG_DATA_HOME: "/data" });
    expect(userDataFolder({ ...linux, env: xdg })).toBe("/data/jupyter");
    expect(userDataFolder({ os: "darwin", env: environment(home) }))
      .toBe("/home/a/Library/Jupyter");
    const chosen = environment({ ...home, JUPYTER_DATA_DIR: "/chosen" });
    for (const os of ["linux", "darwin", "windows"] as const) {
      expect(userDataFolder({ os, env: chosen })).toBe("/chosen");
    }
  });

  it("come in the order JUPYTER_PATH, user, environment, system", () => {
    const env = { HOME: "/h", JUPYTER_PATH: "/p1:/p2" };
    const places = (more: Record<string, string>) =>
      jupyterPath("/py", {
        os: "linux",
        env: environment({ ...env, ...more }),
      });
    expect(places({})).toEqual([
      "/p1",
      "/p2",
      "/h/.local/share/jupyter",
      "/py/share/jupyter",
      "/usr/local/share/jupyter",
      "/usr/share/jupyter",
    ]);
    expect(places({ VIRTUAL_ENV: "/py" }).slice(2, 4)).toEqual([
      "/py/share/jupyter",
      "/h/.local/share/jupyter",
    ]);
    expect(places({ JUPYTER_PREFER_ENV_PATH: "1" })[2])
      .toBe("/py/share/jupyter");
  });

  it("are named where no user's folder is known", () => {
    expect(() => userDataFolder({ os: "linux", env: () => undefined }))
      .toThrow(/HOME is not set/);
  });
});

describe("the kernelspec", () => {
  it("has absolute paths, message interrupts and the grants before the connection file", () => {
    const { argv, interrupt_mode, language } = createKernelspec({
      denoPath: "/opt/deno",
      grants: ["--allow-net=localhost:8000"],
      memoryLimit: 512,
    });
    const script = join(projectFolder, "lib/kernel/launch/main.ts");
    expect(argv.slice(argv.indexOf(script))).toEqual([
      script,
      "--allow-net=localhost:8000",
      "--memory-limit=512",
      "{connection_file}",
    ]);
    expect(Deno.statSync(script).isFile).toBe(true);
    expect(interrupt_mode).toBe("message");
    expect(language).toBe("typescript");
  });

  it("names a Deno of the version that runs now, by the path that PATH gives", async () => {
    if (Deno.build.os === "windows") return;
    const folder = temporary();
    Deno.symlinkSync(Deno.execPath(), `${folder}/deno`);
    expect(await stableDenoPath(`/no/such:${folder}`)).toBe(`${folder}/deno`);
    Deno.removeSync(`${folder}/deno`);
    Deno.writeTextFileSync(`${folder}/deno`, "#!/bin/sh\necho 'deno 1.0.0 '", {
      mode: 0o755,
    });
    expect(await stableDenoPath(folder)).toBe(Deno.execPath());
  });
});

describe("installKernelspec()", () => {
  it("writes kernel.json and three icons, readable by all", async () => {
    const dataFolder = temporary();
    const folder = await installKernelspec(spec, {
      dataFolder,
      name: "Fringebook",
      force: false,
    });
    expect(folder).toBe(join(dataFolder, "kernels", "fringebook"));
    const files = [...Deno.readDirSync(folder)].map(({ name }) => name).sort();
    expect(files).toEqual(["kernel.json", ...ICON_FILES]);
    for (const file of ["", ...files]) {
      const mode = Deno.statSync(join(folder, file)).mode ?? 0o444;
      expect(mode & 0o044).toBe(0o044);
    }
    expect([...Deno.readDirSync(join(dataFolder, "kernels"))]).toHaveLength(1);
  });

  it("refuses to overwrite unless it is told to", async () => {
    const options = { dataFolder: temporary(), name: "k", force: false };
    const folder = await installKernelspec(spec, options);
    Deno.writeTextFileSync(join(folder, "mine.txt"), "kept");
    await expect(installKernelspec(spec, options)).rejects.toThrow(/--force/);
    expect(Deno.readTextFileSync(join(folder, "mine.txt"))).toBe("kept");
    await installKernelspec(spec, { ...options, force: true });
    expect(() => Deno.statSync(join(folder, "mine.txt"))).toThrow();
  });

  it("refuses names that Jupyter does not allow", async () => {
    for (const name of ["", "a b", "../x", "..", "ü"]) {
      await expect(
        installKernelspec(spec, { dataFolder: temporary(), name, force: true }),
      ).rejects.toThrow(RangeError);
    }
  });

  it("is undone by uninstallKernelspec(), which leaves the kernels of others", async () => {
    const dataFolder = temporary();
    const options = { dataFolder, name: "k", force: false };
    const folder = await installKernelspec(spec, options);
    expect(await uninstallKernelspec(dataFolder, "k")).toBe(folder);
    await expect(uninstallKernelspec(dataFolder, "k")).rejects.toThrow(
      /not a kernel/,
    );
    Deno.mkdirSync(folder);
    Deno.writeTextFileSync(join(folder, "kernel.json"), '{"argv": ["other"]}');
    await expect(uninstallKernelspec(dataFolder, "k")).rejects.toThrow(
      /not one of ours/,
    );
  });
});

describe("deno task kernel", () => {
  it("installs to a prefix, refuses a second time, and removes", async () => {
    const prefix = temporary();
    const place = ["--prefix", prefix, "--name", "bench"];
    const first = await run(...place, "--display-name", "Bench 3");
    expect(first.code).toBe(0);
    const file = `${prefix}/share/jupyter/kernels/bench/kernel.json`;
    expect(JSON.parse(Deno.readTextFileSync(file)).display_name)
      .toBe("Bench 3");
    expect(first.text).toMatch(/JUPYTER_PATH/);
    expect((await run(...place)).code).toBe(1);
    expect((await run(...place, "--force")).code).toBe(0);
    expect((await run(...place, "--uninstall")).code).toBe(0);
    expect((await run(...place, "--uninstall")).code).toBe(1);
  });

  it("prints without writing", async () => {
    const prefix = temporary();
    const { code, text } = await run(
      "--prefix",
      prefix,
      "--print",
      "--allow-net=localhost:5025",
      "--env",
      "DENO_DIR=/srv/deno",
      "--memory-limit",
      "512",
    );
    expect(code).toBe(0);
    const [folder, ...rest] = text.split("\n");
    expect(folder).toBe(`${prefix}/share/jupyter/kernels/fringebook`);
    const printed = JSON.parse(rest.join("\n"));
    expect(printed.argv).toContain("--allow-net=localhost:5025");
    expect(printed.argv).toContain("--memory-limit=512");
    expect(printed.env).toEqual({ DENO_DIR: "/srv/deno" });
    expect([...Deno.readDirSync(prefix)]).toHaveLength(0);
  });

  it("honours JUPYTER_DATA_DIR", async () => {
    const folder = temporary();
    const before = Deno.env.get("JUPYTER_DATA_DIR");
    Deno.env.set("JUPYTER_DATA_DIR", folder);
    try {
      expect((await run("--user")).code).toBe(0);
    } finally {
      if (before === undefined) Deno.env.delete("JUPYTER_DATA_DIR");
      else Deno.env.set("JUPYTER_DATA_DIR", before);
    }
    expect(Deno.statSync(`${folder}/kernels/fringebook`).isDirectory).toBe(
      true,
    );
  });

  it("installs in the active Python environment", async () => {
    const prefix = temporary();
    const before = Deno.env.get("VIRTUAL_ENV");
    Deno.env.set("VIRTUAL_ENV", prefix);
    try {
      const { code, text } = await run("--sys-prefix");
      expect(code).toBe(0);
      expect(text).not.toMatch(/JUPYTER_PATH/);
    } finally {
      if (before === undefined) Deno.env.delete("VIRTUAL_ENV");
      else Deno.env.set("VIRTUAL_ENV", before);
    }
    const folder = `${prefix}/share/jupyter/kernels/fringebook`;
    expect(Deno.statSync(folder).isDirectory).toBe(true);
  });

  it("gives exit code 2 and the reason for a wrong command line", async () => {
    const cases: [string[], RegExp][] = [
      [["--nonsense"], /'--nonsense'/],
      [["--user", "--sys-prefix"], /several places/],
      [["--print", "--env", "A"], /NAME=VALUE/],
      [["--print", "--memory-limit", "1"], /at least 64/],
      [["--print", "--name", "a b"], /letters, digits/],
    ];
    for (const [args, why] of cases) {
      const { code, text } = await run(...args);
      expect([code, why.test(text)]).toEqual([2, true]);
    }
  });
});
