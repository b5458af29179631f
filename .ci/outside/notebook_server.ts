/**
 * The Notebook server with our kernel, for the outside suites.
 *
 * @module
 */

/** A running server. */
export interface NotebookServer extends AsyncDisposable {
  /** Its address, without a slash at the end. */
  readonly address: string;
}

/** Starts a Notebook server on a folder and waits until it answers. */
export async function startServer(folder: string): Promise<NotebookServer> {
  const port = freePort();
  const address = `http://127.0.0.1:${port}`;
  const child = new Deno.Command("/usr/bin/jupyter-notebook", {
    args: [
      "--no-browser",
      "--allow-root",
      "--ip=127.0.0.1",
      `--port=${port}`,
      "--NotebookApp.port_retries=0",
      "--NotebookApp.token=",
      "--NotebookApp.password=",
      "--NotebookApp.iopub_data_rate_limit=1e9",
      `--notebook-dir=${folder}`,
    ],
    stdout: "null",
    stderr: "null",
  }).spawn();
  const stop = async () => {
    child.kill("SIGTERM");
    await child.status;
  };
  for (let n = 0; n < 240; n++) {
    const answer = await fetch(`${address}/api/kernelspecs`).catch(() => null);
    if (answer?.ok) {
      const { kernelspecs } = await answer.json();
      if ("fringebook" in kernelspecs) {
        return { address, [Symbol.asyncDispose]: stop };
      }
      await stop();
      throw new Error("the Notebook server does not know the kernel");
    }
    await answer?.body?.cancel();
    await new Promise((resolve) => setTimeout(resolve, 250));
  }
  await stop();
  throw new Error("the Notebook server does not answer");
}

/** A port of this machine that nobody listens on: suites run side by side. */
function freePort(): number {
  using listener = Deno.listen({ hostname: "127.0.0.1", port: 0 });
  return listener.addr.port;
}
