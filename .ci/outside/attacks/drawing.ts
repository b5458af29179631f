import { join } from "@std/path";
import { HostileKernel } from "../hostile_kernel.ts";
import { check, demand } from "../tally.ts";
import { cache, folder, project, secret, startTrap } from "./place.ts";

/** Looks at the process that draws for a kernel. */
export async function drawerIsConfined(kernel: HostileKernel): Promise<void> {
  let found = 0;
  for (const { name } of Deno.readDirSync("/proc")) {
    if (!/^\d+$/.test(name)) continue;
    const read = (file: string) =>
      Deno.readTextFile(`/proc/${name}/${file}`).catch(() => "");
    const [status, line] = [await read("status"), await read("cmdline")];
    if (!line.includes("drawing_main.ts")) continue;
    const parent = /^PPid:\s(\d+)$/m.exec(status)?.[1];
    if (Number(parent) !== kernel.child.pid) continue;
    found++;
    demand(
      /^Seccomp:\s2$/m.test(status) && /^NoNewPrivs:\s1$/m.test(status),
      "it has no filter of system calls",
    );
    const flags = line.split("\0").filter((word) => /^--allow/.test(word));
    const paths = flags.join().split("=")[1]?.split(",") ?? [];
    demand(
      flags.length === 1 && flags[0]!.startsWith("--allow-read=") &&
        paths.every((path) =>
          [join(project, "lib"), join(project, "deno.json"), cache].includes(
            path,
          )
        ),
      flags.join(" "),
    );
  }
  demand(found === 1, `${found} processes draw`);
}

/** The process that draws for a session takes figures and nothing else. */
export async function drawing(): Promise<void> {
  const kernel = await HostileKernel.start({ folder });
  const trap = startTrap();
  await check(
    "held: a figure with files, hosts and scripts in it",
    async () => {
      const { text } = await kernel.run(`
      const { createFigure, drawPicture } = await import("fringebook");
      const data = [{ x: [0, 1], y: [0, 1], text: ["<a href='javascript:1'>a</a><script>1</script>"], mode: "text" }];
      const image = (source) => ({ source, xref: "paper", yref: "paper", x: 0, y: 1, sizex: 1, sizey: 1 });
      const images = [image(${
        JSON.stringify(`file://${secret}`)
      }), image("http://127.0.0.1:${trap.port}/a.png")];
      const refused = await drawPicture(createFigure({ data, layout: { images }, caption: "a" })).then(() => "drawn", (error) => error.message);
      const { svg, png } = await drawPicture(createFigure({ data, layout: {}, caption: "b" }));
      [refused.includes("nothing loads them"), /javascript:|<script/.test(svg), png.length > 1000].join()`);
      demand(text === '"true,false,true"', text.slice(0, 500));
      demand(trap.hits === 0, "a host was asked");
    },
  );
  await check(
    "the process that draws is confined by itself",
    () => drawerIsConfined(kernel),
  );
  await check("held: what is no figure, written past the session", async () => {
    const { text } = await kernel.run(`
      const { writeSync } = await import("node:fs");
      const mark = [0xff, 0x46, 0xfe, 0x42, 0xff, 0x00, 0xfe, 0x01];
      for (const figure of ["", "{", "null", '{"layout":{}}', '{"layout":{"width":1e9,"height":1e9},"data":[]}', "[".repeat(1e6)]) {
        const body = new TextEncoder().encode(figure);
        const head = new TextEncoder().encode(JSON.stringify({ type: "draw", id: 1000, scale: 1, parts: [body.length] }));
        const frame = new Uint8Array(16 + head.length + body.length);
        frame.set(mark);
        new DataView(frame.buffer).setUint32(8, head.length + body.length);
        new DataView(frame.buffer).setUint32(12, head.length);
        frame.set(head, 16);
        frame.set(body, 16 + head.length);
        writeSync(1, frame);
      }
      6 * 7`);
    demand(text === "42", text.slice(0, 500));
    const { text: after } = await kernel.run(`
      const again = await import("fringebook");
      (await again.drawPicture(again.createFigure({ data: [{ y: [1, 2] }], caption: "after" }))).png.length > 1000`);
    demand(after === "true", after.slice(0, 500));
  });
  trap.listener.close();
  await kernel.stop();
}
