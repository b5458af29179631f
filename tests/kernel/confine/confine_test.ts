import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { join } from "@std/path";
import {
  confinedCommand,
  type Confinement,
  describeLevel,
  levelOf,
  systemMeans,
} from "../../../lib/kernel/confine/mod.ts";
import { right } from "../../../lib/kernel/confine/landlock.ts";

const full = levelOf(systemMeans()) === "confined by the system";

/** Runs a line of the shell, confined, and gives what it says. */
async function shell(line: string, confinement: Confinement): Promise<string> {
  const { stdout, stderr } = await confinedCommand("/bin/sh", {
    args: ["-c", line],
    stdout: "piped",
    stderr: "piped",
  }, { programs: true, ...confinement }).output();
  const decoder = new TextDecoder();
  return (decoder.decode(stdout) + decoder.decode(stderr)).trim();
}

describe("the level of confinement", () => {
  it("goes by what the system offers, and is put in words", () => {
    const words = ([landlock, filter]: [number, boolean]) =>
      describeLevel({ landlock, filter });
    expect(words([7, true])).toContain("confined by the system");
    expect(words([3, true])).toContain(
      "in part by the system: it keeps them from other files, the network",
    );
    expect(words([0, true])).toContain("in part");
    expect(words([1, false])).not.toContain("network");
    expect(words([0, false])).toContain("by Deno alone");
  });
});

if (full) {
  describe("a confined process", () => {
    let folder = "";
    let own = "";

    beforeAll(async () => {
      folder = await Deno.makeTempDir();
      own = join(folder, "own");
      await Deno.mkdir(join(own, "kept"), { recursive: true });
      await Deno.writeTextFile(join(own, "kept", "key"), "key");
      await Deno.writeTextFile(join(folder, "secret"), "secret");
      await Deno.symlink(join(folder, "secret"), join(own, "link"));
    });
    afterAll(() => Deno.remove(folder, { recursive: true }));

    it("reads and writes what is named, and nothing else", async () => {
      const reach = { read: [own], write: [own] };
      const said = await shell(
        `cd ${own}; echo a > new; cat new; mkdir d; mv new d/new; rm -r d; cat link; echo b > link; cat ${folder}/secret; ls ${folder}; echo b > ${folder}/new`,
        reach,
      );
      expect(said.startsWith("a\n")).toBe(true);
      expect(said.match(/Permission denied/g)?.length).toBe(5);
      expect(await Deno.readTextFile(join(folder, "secret"))).toBe("secret");
    });

    it("makes no links, neither symbolic nor hard, and no pipes", async () => {
      const said = await shell(
        `cd ${own}; ln -s ${folder} out; ln kept/key hard; mkfifo pipe; ls`,
        { read: [own], write: [own] },
      );
      expect(said).toContain("not permitted");
      expect(said.split("\n").sort().slice(-4)).toContain("link");
      for (const name of ["out", "hard", "pipe"]) {
        expect([...Deno.readDirSync(own)].map((entry) => entry.name)).not
          .toContain(name);
      }
    });

    it("does not reach what is withheld inside of what is named", async () => {
      const said = await shell(`cat ${own}/kept/key; cat ${own}/link`, {
        read: [folder],
        withheld: [join(own, "kept")],
      });
      expect(said).toContain("Permission denied");
      expect(said).toContain("secret");
    });

    it("reaches no host and no socket, and signals nobody outside", async () => {
      const said = await confinedCommand(Deno.execPath(), {
        args: [
          "eval",
          "--no-config",
          "--unstable-net",
          `const say = (e) => console.log(e.name);
           await Deno.connect({ port: 9 }).catch(say);
           await Deno.connect({ transport: "unix", path: "/run/x" }).catch(say);
           try { Deno.listenDatagram({ port: 0, transport: "udp" }) } catch (e) { say(e) }
           try { Deno.kill(${Deno.pid}, "SIGURG") } catch (e) { say(e) }`,
        ],
        stdout: "piped",
      }, {}).output();
      const lines = new TextDecoder().decode(said.stdout).trim().split("\n");
      expect(lines).toEqual(Array(4).fill("PermissionDenied"));
    });

    it("reaches hosts where that is allowed, and still no local socket", async () => {
      const listener = Deno.listen({ port: 0, hostname: "127.0.0.1" });
      const { stdout } = await confinedCommand(Deno.execPath(), {
        args: [
          "eval",
          "--no-config",
          `const c = await Deno.connect({ port: ${listener.addr.port}, hostname: "127.0.0.1" });
           console.log("connected"); c.close();
           await Deno.connect({ transport: "unix", path: "/run/x" }).catch((e) => console.log(e.code));`,
        ],
        stdout: "piped",
      }, { network: true }).output();
      listener.close();
      expect(new TextDecoder().decode(stdout)).toBe("connected\nEPERM\n");
    });

    it("keeps number, folder and arguments, and its limits", async () => {
      const child = confinedCommand("/bin/sh", {
        args: [
          "-c",
          'echo $$ "$0" "$1" $(pwd); ulimit -t; ulimit -n',
          "a b",
          "ü",
        ],
        cwd: own,
        stdout: "piped",
      }, {
        programs: true,
        read: [own],
        limits: { processorTime: 2.5, openFiles: 100 },
      }).spawn();
      const { stdout } = await child.output();
      expect(new TextDecoder().decode(stdout)).toBe(
        `${child.pid} a b ü ${own}\n3\n100\n`,
      );
    });

    it("ends at the limit of its time", async () => {
      const { signal } = await confinedCommand("/bin/sh", {
        args: ["-c", "while :; do :; done"],
      }, { programs: true, limits: { processorTime: 1 } }).spawn().status;
      expect(["SIGXCPU", "SIGKILL"]).toContain(signal);
    });

    // Source: linux/landlock.h of the system's own headers
    it("uses the numbers of the system's headers", async () => {
      const header = await Deno.readTextFile("/usr/include/linux/landlock.h")
        .catch(() => null);
      if (header === null) return;
      const names = {
        execute: "EXECUTE",
        writeFile: "WRITE_FILE",
        readFile: "READ_FILE",
        readFolder: "READ_DIR",
        removeFolder: "REMOVE_DIR",
        removeFile: "REMOVE_FILE",
        makeFolder: "MAKE_DIR",
        makeFile: "MAKE_REG",
        makeLink: "MAKE_SYM",
        moveBetween: "REFER",
        truncate: "TRUNCATE",
      } as const;
      for (const [ours, theirs] of Object.entries(names)) {
        const found = new RegExp(
          `LANDLOCK_ACCESS_FS_${theirs}\\s+\\(1ULL << (\\d+)\\)`,
        ).exec(header);
        if (found) {
          expect([theirs, right[ours as keyof typeof names]])
            .toEqual([theirs, 2 ** Number(found[1])]);
        }
      }
    });
  });
}
