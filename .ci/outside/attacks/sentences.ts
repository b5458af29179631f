import { join } from "@std/path";
import {
  describeLevel,
  levelOf,
  systemMeans,
} from "../../../lib/kernel/confine/mod.ts";
import { HostileKernel } from "../hostile_kernel.ts";
import { oneCellNotebook } from "../one_cell.ts";
import { check, demand } from "../tally.ts";
import {
  folder,
  main,
  place,
  project,
  secret,
  secretPath,
  secretText,
  startTrap,
} from "./place.ts";
import {
  documents,
  levelsOfGuide,
  sentencesOfGuide,
  sentencesOfReadme,
} from "./documents.ts";
import { drawerIsConfined } from "./drawing.ts";
import { bySession, removing, task, throughLink } from "./runs.ts";

/** Each sentence of the README and of the guide on permissions is one check. */
export async function sentences(): Promise<void> {
  const kernel = await HostileKernel.start({ folder });
  const granted = await HostileKernel.start({
    folder,
    flags: ["--allow-env=HOME", `--allow-read=${secret}`],
  });
  const path = (...parts: string[]) => JSON.stringify(join(project, ...parts));
  const runs = async (of: HostileKernel, code: string, expected: RegExp) => {
    const { text } = await of.run(code);
    demand(expected.test(text), text.slice(0, 500));
  };
  const writes = async (name: string) =>
    await runs(
      kernel,
      `await Deno.writeTextFile(${name}, "own"); const back = await Deno.readTextFile(${name}); await Deno.remove(${name}); back`,
      /^"own"$/,
    );
  const said: Record<string, () => Promise<void>> = {
    "Notebooks may read the project and their own folder, and write their own folder and out/":
      async () => {
        await runs(
          kernel,
          `(await Deno.readTextFile(${path("README.md")})).slice(0, 12)`,
          /^"# Fringebook"$/,
        );
        await writes('"own.txt"');
        await writes(path("out", "attacks.txt"));
        await runs(
          kernel,
          `await Deno.writeTextFile(${path("new.txt")}, "a")`,
          /NotCapable.*outside of the notebook/s,
        );
        await runs(
          kernel,
          `await Deno.readTextFile(${secretPath})`,
          /NotCapable/,
        );
      },
    "they have no network, no environment and start no programs": async () => {
      await runs(kernel, `await fetch("http://example.org")`, /NotCapable/);
      await runs(kernel, `Deno.env.get("HOME")`, /NotCapable/);
      await runs(
        kernel,
        `new Deno.Command("ls").outputSync()`,
        /NotCapable/,
      );
    },
    "On Linux the system itself keeps them to that, on macOS and Windows Deno alone":
      async () => {
        const { text } = await kernel.run("Deno.pid");
        const status = await Deno.readTextFile(`/proc/${text}/status`);
        demand(
          /^Seccomp:\s2$/m.test(status) && /^NoNewPrivs:\s1$/m.test(status),
          "the session has no filter of system calls",
        );
        const plain = await bySession({
          means: { landlock: 0, filter: false },
        });
        demand(/NotCapable/.test(plain.text), plain.text);
        demand(/confined by Deno alone/.test(plain.banner), plain.banner);
      },
    "the kernel says which when it starts": async () => {
      const { reply } = await kernel.client.request("kernel_info_request");
      const banner = String(reply?.content["banner"]);
      console.log(`  ${banner.replaceAll("\n", " | ")}`);
      demand(
        /confined (in part )?by the system|by Deno alone/.test(banner),
        banner,
      );
    },
    "Granting more is up to you, not to the notebook": async () => {
      await runs(
        granted,
        `typeof Deno.env.get("HOME") + await Deno.readTextFile(${secretPath})`,
        new RegExp(`^"string${secretText}"$`),
      );
      await runs(
        kernel,
        `await Deno.permissions.request({ name: "env" }).then(({ state }) => state)`,
        /^"(denied|prompt)"$/,
      );
    },
    "A notebook can change neither this file nor the library": async () => {
      await runs(
        kernel,
        `await Deno.writeTextFile(${path("notebook_permissions.json")}, "{}")`,
        /is protected/,
      );
      await runs(
        kernel,
        `await Deno.writeTextFile(${path("lib", "mod.ts")}, "")`,
        /NotCapable/,
      );
    },
    "It loads the packages of deno.json as they were fetched": async () => {
      await runs(
        kernel,
        `typeof (await import("ml-matrix")).Matrix`,
        /^"function"$/,
      );
    },
    'a package that is not there is asked of the registry only where you grant "import": ["registry.npmjs.org"], as its name would carry words outward':
      async () => {
        await runs(
          kernel,
          `await import("npm:x-not-there")`,
          /may not fetch|had no|was not fetched/,
        );
      },
    "It keeps nothing in localStorage or the Cache API": async () => {
      await runs(kernel, `localStorage.a = 1`, /not defined/);
      await runs(kernel, `await caches.open("a")`, /not defined/);
    },
    "A folder with symbolic links that lead outward is refused with their names":
      async () => {
        const linked = join(place, "linked");
        await Deno.mkdir(linked);
        await Deno.symlink(secret, join(linked, "way"));
        const other = await HostileKernel.start({ folder: linked });
        const { text, status } = await other.run("1");
        await other.stop();
        demand(status === "error" && text.includes("way"), text);
      },
    "Files that it removes while they are open are counted": async () => {
      // Below the limit nothing happens, and closed ones count no more.
      for (let round = 0; round < 2; round++) {
        await runs(
          kernel,
          `${removing(300)} for (const file of open) file.close(); "wrote"`,
          /^"wrote"$/,
        );
      }
    },
    "with more than 512 MB in them its session is ended (on Linux)":
      async () => {
        const { text, status } = await kernel.run(
          `${removing(1500)} "wrote 1500 MB"`,
        );
        console.log(`  ${text.slice(0, 200)}`);
        demand(
          status === "error" && text.includes("limit of 512 MB"),
          text.slice(0, 300),
        );
      },
    "Its figures are drawn by another process, which gets them as data and may read nothing but the library and its packages":
      async () => {
        await runs(
          kernel,
          `const own = await import("fringebook");
           (await own.drawPicture(own.createFigure({ data: [{ y: [1, 2] }], caption: "own" }))).png.length > 1000`,
          /^true$/,
        );
        await drawerIsConfined(kernel);
      },
    "The rules are set before the session starts, and nothing in it can take them back":
      async () => {
        await runs(
          kernel,
          `[...new Set(await Promise.all(["read", "write", "net", "run", "ffi"].map(async (name) => (await Deno.permissions.request({ name })).state)))].join()`,
          /^"(denied|prompt)(,(denied|prompt))*"$/,
        );
      },
    "Inside the notebook's own folder Deno alone keeps what is protected there (deno.json, .git)":
      async () => {
        await runs(
          kernel,
          `await Deno.writeTextFile("deno.json", "{}")`,
          /is protected|NotCapable/,
        );
      },
    "More is granted by you, not by the notebook": () =>
      said["Granting more is up to you, not to the notebook"]!(),
    "at installation (deno task kernel --user --allow-net=localhost:5025), or in a file notebook_permissions.json in the project's folder":
      async () => {
        const { text } = await task(
          ...["kernel", "--user", "--allow-net=localhost:5025", "--print"],
        );
        demand(text.includes('"--allow-net=localhost:5025"'), text);
        const grantFile = join(place, "notebook_permissions.json");
        await Deno.writeTextFile(
          grantFile,
          JSON.stringify({ "notebook": { read: [secret] } }),
        );
        const { text: read } = await bySession({ grantFile });
        demand(read.includes(secretText), read);
      },
    "A notebook may read the project and its own folder, and write its own folder and out/":
      () =>
        said[
          "Notebooks may read the project and their own folder, and write their own folder and out/"
        ]!(),
    "It has no network, no environment, no programs": () =>
      said["they have no network, no environment and start no programs"]!(),
    'remove them, or grant "read" where they lead': async () => {
      const linked = join(place, "linked-and-granted");
      await Deno.mkdir(linked);
      await Deno.symlink(secret, join(linked, "way"));
      const other = await HostileKernel.start({
        folder: linked,
        flags: [`--allow-read=${secret}`],
      });
      await runs(
        other,
        `await Deno.readTextFile("way")`,
        new RegExp(`^"${secretText}"$`),
      );
      await other.stop();
    },
    "Beside Deno's permissions the system itself keeps a notebook in, as far as it can":
      () =>
        said[
          "On Linux the system itself keeps them to that, on macOS and Windows Deno alone"
        ]!(),
    "the banner of the kernel, its log and deno task run say which of three levels holds":
      async () => {
        await said["the kernel says which when it starts"]!();
        const level = describeLevel(systemMeans());
        const notebook = join(place, "one.ipynb");
        await Deno.writeTextFile(notebook, oneCellNotebook("1"));
        const { text } = await task("run", notebook);
        demand(text.includes(level), text);
        const { stderr } = await new Deno.Command(Deno.execPath(), {
          args: ["run", "-A", main, join(place, "no-connection.json")],
          cwd: project,
        }).output();
        const log = new TextDecoder().decode(stderr);
        demand(log.includes(level), log);
      },
    "with the network granted, Deno alone tells hosts apart": async () => {
      const [one, two] = [startTrap(), startTrap()];
      const open = await HostileKernel.start({
        folder,
        flags: [`--allow-net=127.0.0.1:${one.port}`],
      });
      const connect = (port: number) =>
        `(await Deno.connect({ hostname: "127.0.0.1", port: ${port} })).close(); "connected"`;
      await runs(open, connect(one.port), /^"connected"$/);
      await runs(open, connect(two.port), /NotCapable/);
      await open.stop();
      for (const { listener } of [one, two]) listener.close();
      demand(two.hits === 0, "the other port was reached");
    },
  };
  const levels: Record<string, () => Promise<void>> = {
    "confined by the system": async () => {
      if (levelOf(systemMeans()) !== "confined by the system") {
        console.log("  this machine has less: not looked at");
        return;
      }
      // A program that the person allowed knows nothing of Deno's permissions.
      const program = await HostileKernel.start({
        folder,
        flags: ["--allow-run=cat"],
      });
      const { text } = await program.run(
        `new TextDecoder().decode((await new Deno.Command("cat", { args: [${secretPath}] }).output()).stdout) + "|"`,
      );
      await program.stop();
      demand(text === '"|"', text);
    },
    "confined in part by the system": async () => {
      const [one, two] = ["by-landlock", "by-seccomp"]
        .map((name) => join(place, name));
      for (const each of [one!, two!]) await Deno.mkdir(each);
      const files = await bySession({
        folder: one!,
        means: { landlock: 3, filter: false },
        code: throughLink,
      });
      demand(/keeps them from other files/.test(files.banner), files.banner);
      demand(!files.text.includes(secretText), files.text);
      const calls = await bySession({
        folder: two!,
        means: { landlock: 0, filter: true },
        code: throughLink,
      });
      demand(
        /keeps? (it|them) from the network, links/.test(calls.banner),
        calls.banner,
      );
      demand(!calls.text.includes(secretText), calls.text);
    },
    "confined by Deno alone": async () => {
      const means = { landlock: 0, filter: false };
      const { text, banner } = await bySession({ means });
      demand(/NotCapable/.test(text), text);
      demand(/confined by Deno alone/.test(banner), banner);
      const fetched = await bySession({
        means,
        code: `await import("npm:x-not-there")`,
      });
      demand(/may not fetch|was not fetched/.test(fetched.text), fetched.text);
      const linked = await bySession({ means, folder: join(place, "linked") });
      demand(linked.text.includes("way"), linked.text);
    },
  };
  const documented = await documents();
  for (const [sentence, body] of Object.entries(said)) {
    await check(sentence, async () => {
      demand(documented.includes(sentence), "no document says so");
      await body();
    });
  }
  await check(
    "every sentence of the README on permissions is a check",
    async () => {
      const missing = (await sentencesOfReadme()).filter((sentence) =>
        !(sentence in said)
      );
      demand(missing.length === 0, missing.join("\n"));
    },
  );
  await check(
    "every sentence of the guide on permissions is a check",
    async () => {
      const missing = (await sentencesOfGuide()).filter((sentence) =>
        !(sentence in said)
      );
      demand(missing.length === 0, missing.join("\n"));
    },
  );
  for (const level of await levelsOfGuide()) {
    await check(`the guide's level "${level}"`, async () => {
      demand(level in levels, "no check");
      await levels[level]!();
    });
  }
  await kernel.stop();
  await granted.stop();
}
