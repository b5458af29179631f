import { TextLineStream } from "@std/streams/text-line-stream";

/** A child process that answers a line of JSON with a line of JSON. */
export class Child {
  private process: Deno.ChildProcess | null = null;
  private answers: ReadableStreamDefaultReader<string> | null = null;
  private writer: WritableStreamDefaultWriter<Uint8Array> | null = null;

  constructor(
    private readonly command: string,
    private readonly args: readonly string[],
    private readonly env: Readonly<Record<string, string>> = {},
  ) {}

  /**
   * Asks and waits. A child that uses more CPU than `most` (s) is stopped, and the
   * answer is `null`; the next question starts a new one.
   */
  async ask<T>(question: unknown, most = Infinity): Promise<T | null> {
    if (this.process === null) await this.start();
    const begin = cpuOf(this.process!.pid);
    let stopped = false;
    const watch = setInterval(() => {
      if (cpuOf(this.process!.pid) - begin < most) return;
      stopped = true;
      this.process!.kill("SIGKILL");
    }, 250);
    try {
      await this.writer!.write(
        new TextEncoder().encode(`${JSON.stringify(question)}\n`),
      );
      const { value, done } = await this.answers!.read();
      if (!done) return JSON.parse(value);
    } catch (error) {
      if (!stopped) throw error;
    } finally {
      clearInterval(watch);
    }
    this.process = null;
    if (stopped) return null;
    throw new Error(`${this.command} ended without an answer`);
  }

  /** Ends the child. */
  async close(): Promise<void> {
    if (this.process === null) return;
    await this.writer!.close();
    await this.process.status;
    this.process = null;
  }

  private async start(): Promise<void> {
    this.process = new Deno.Command(this.command, {
      args: [...this.args],
      stdin: "piped",
      stdout: "piped",
      env: { ...this.env },
    }).spawn();
    this.writer = this.process.stdin.getWriter();
    const lines: ReadableStream<string> = this.process.stdout
      .pipeThrough(new TextDecoderStream())
      .pipeThrough(new TextLineStream());
    const answers = lines.getReader();
    this.answers = answers;
    const { value, done } = await answers.read();
    if (done || JSON.parse(value).ready !== true) {
      throw new Error(`${this.command} ${this.args.join(" ")} did not start`);
    }
  }
}

/**
 * CPU time of a process so far, in s: user and system, of which Linux counts 100
 * ticks a second.
 */
function cpuOf(pid: number): number {
  try {
    const text = Deno.readTextFileSync(`/proc/${pid}/stat`);
    const fields = text.slice(text.lastIndexOf(")") + 2).split(" ");
    return (Number(fields[11]) + Number(fields[12])) / 100;
  } catch {
    return 0;
  }
}
