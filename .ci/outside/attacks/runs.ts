import {
  SessionInterpreter,
  type SessionOptions,
} from "../../../lib/kernel/session/mod.ts";
import { inCell } from "../hostile_kernel.ts";
import { wasi } from "../wasi_links.ts";
import { folder, project, secretPath } from "./place.ts";

/** A task of the project, and what it printed. */
export async function task(...args: string[]): Promise<{ text: string }> {
  const { stdout, stderr } = await new Deno.Command(Deno.execPath(), {
    args: ["task", "--quiet", ...args],
    cwd: project,
  }).output();
  return {
    text: new TextDecoder().decode(stdout) + new TextDecoder().decode(stderr),
  };
}

/** Reads the secret through a link that Deno knows nothing of. */
export const throughLink = inCell(`${wasi}
  symlink("../secret.txt", "way");
  return await Deno.readTextFile("way").catch((e) => e.name) + openPath("way", 0)`);

/** Code that holds files of so many MB open which it removed. */
export const removing = (megabytes: number) => `
  const open = [];
  for (let n = 0; n < ${megabytes / 10}; n++) {
    const file = Deno.openSync("gone", { create: true, write: true });
    Deno.removeSync("gone");
    open.push(file);
    for (let k = 0; k < 10; k++) file.writeSync(new Uint8Array(1e6));
    await new Promise((resolve) => setTimeout(resolve, 5));
  }`;

/** Runs a cell in a session: what it published, as JSON, and how it ended. */
export async function executed(
  session: SessionInterpreter,
  code: string,
): Promise<{ published: string; outcome: unknown }> {
  const texts: string[] = [];
  const outcome = await session.execute({
    code,
    executionCount: 1,
    cellId: null,
    silent: false,
    userExpressions: {},
  }, {
    requestId: crypto.randomUUID(),
    publish: (output) => void texts.push(JSON.stringify(output)),
    requestInput: () => Promise.resolve(""),
    ready: () => Promise.resolve(),
  });
  return { published: texts.join(""), outcome };
}

/** What a cell says in a session of other options than a kernel's. */
export async function bySession(
  {
    code = `await Deno.readTextFile(${secretPath})`,
    folder: own = folder,
    ...options
  }:
    & { readonly code?: string; readonly folder?: string }
    & Pick<SessionOptions, "means" | "grantFile">,
): Promise<{ text: string; banner: string }> {
  const session = new SessionInterpreter({ notebookFolder: own, ...options });
  const { outcome } = await executed(session, code);
  const { banner } = session;
  await session.close();
  return { text: JSON.stringify(outcome), banner };
}
