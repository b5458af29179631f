import { join, toFileUrl } from "@std/path";
import type {
  CommMessage,
  Completeness,
  Completion,
  ExecuteOutcome,
  ExecuteRequest,
  Inspection,
  Interpreter,
  LanguageInfo,
  Output,
  RequestContext,
} from "../protocol/interpreter.ts";
import { confinedCommand, describeLevel } from "../confine/mod.ts";
import type { CellOutcome } from "../interpreter/mod.ts";
import type { TypeDesk } from "../types/mod.ts";
import { sessionArguments, sessionEnvironment } from "./command.ts";
import { SessionPictures } from "./drawing.ts";
import { fetchPackage } from "./fetch_package.ts";
import type { Frame } from "./frames.ts";
import { mergeGrants, readGrants } from "./grants.ts";
import { copyLockFile, removeLockFile } from "./lock_copy.ts";
import { failedStart, stoppedOutcome } from "./outcomes.ts";
import { projectFolder } from "./project_folder.ts";
import { sessionReach } from "./reach.ts";
import { refuseLinks } from "./refuse_links.ts";
import { createTypeDesk, withMembers, withNotes } from "./type_notes.ts";
import { describeLoss } from "./session_lost.ts";
import { completeOptions, type SessionOptions } from "./session_options.ts";
import { StreamJoiner } from "./stream_joiner.ts";
import { warmCache } from "./warm_cache.ts";
import { type SessionEnd, SessionProcess } from "./session_process.ts";

type Message = Record<string, unknown>;

interface Pending {
  readonly context: RequestContext | null;
  readonly sequence: number;
  readonly settle: (reply: Message | SessionEnd) => void;
}

/**
 * An interpreter whose cells run in a process of their own, with few
 * permissions. When the process ends (exit, crash, no memory, deaf to an
 * interrupt) the cell fails with a plain message and the next cell finds a
 * fresh session.
 */
export class SessionInterpreter implements Interpreter {
  readonly banner: string;
  readonly languageInfo: LanguageInfo;
  readonly #options: Required<SessionOptions>;
  readonly #pending = new Map<number, Pending>();
  readonly #contexts = new Map<string, RequestContext>();
  #process: SessionProcess | null = null;
  #ready: Promise<void> | null = null;
  #comms: ReadonlyMap<string, string> = new Map();
  #next = 0;
  #running: number | null = null;
  #deaf = false;
  /** The request that was interrupted before its session was there. */
  #stopped: number | null = null;
  #graceTimer: ReturnType<typeof setTimeout> | null = null;
  #closed = false;
  #lockFile: string | null = null;
  readonly #types: TypeDesk | null;
  readonly #pictures: SessionPictures;
  /** Where the text goes that the session sends next. */
  #target = { request: "", name: "stdout" as "stdout" | "stderr" };
  readonly #joiner = new StreamJoiner((request, output) =>
    this.#contextOf(request)?.publish(output)
  );
  readonly #strayText = new TextDecoder();
  #lastContext: RequestContext | null = null;

  constructor(options: SessionOptions = {}) {
    this.#options = completeOptions(options);
    this.#types = this.#options.typeNotes
      ? createTypeDesk(this.#options)
      : null;
    this.#pictures = new SessionPictures(this.#options.drawing);
    this.banner =
      `TypeScript ${Deno.version.typescript} on Deno ${Deno.version.deno}\n${
        describeLevel(this.#options.means)
      }`;
    this.languageInfo = {
      name: "typescript",
      version: Deno.version.typescript,
      mimetype: "text/x.typescript",
      file_extension: ".ts",
      pygments_lexer: "typescript",
      codemirror_mode: "typescript",
      nbconvert_exporter: "script",
    };
  }

  /** Starts the process; the first cell can run when this resolves. */
  start(): Promise<void> {
    return this.#ready ??= this.#launch().catch((error) => {
      this.#ready = null;
      throw error;
    });
  }

  async execute(
    request: ExecuteRequest,
    context: RequestContext,
  ): Promise<ExecuteOutcome> {
    this.#types?.begin();
    this.#options.drawing?.expect(request.code);
    const reply = await this.#ask("execute", { request }, context)
      .catch((error) => ({ value: failedStart(error) } as Message));
    if ("lastWords" in reply) return this.#lost(reply as unknown as SessionEnd);
    if ("error" in reply) {
      const evalue = String(reply["error"]);
      return {
        status: "error",
        sessionLost: false,
        ename: "InternalError",
        evalue,
        traceback: [evalue],
      };
    }
    return await withNotes(
      this.#types,
      request.code,
      reply["value"] as CellOutcome,
    );
  }

  async complete(code: string, cursor: number): Promise<Completion> {
    const reply = await this.#ask("complete", { code, cursor }, null);
    const found = reply["value"] as Completion ??
      { matches: [], cursorStart: cursor, cursorEnd: cursor, metadata: {} };
    return await withMembers(this.#types, code, cursor, found);
  }

  async inspect(
    code: string,
    cursor: number,
    detail: 0 | 1,
  ): Promise<Inspection> {
    const reply = await this.#ask("inspect", { code, cursor, detail }, null);
    return reply["value"] as Inspection ??
      { found: false, data: {}, metadata: {} };
  }

  async isComplete(code: string): Promise<Completeness> {
    const reply = await this.#ask("is_complete", { code }, null);
    return reply["value"] as Completeness ?? { status: "unknown", indent: "" };
  }

  async comm(
    message: CommMessage,
    context: RequestContext,
  ): Promise<boolean> {
    const { buffers, ...comm } = message;
    const reply = await this.#ask("comm", { comm }, context, buffers);
    if (typeof reply["error"] === "string") throw new Error(reply["error"]);
    return reply["value"] === true;
  }

  comms(): ReadonlyMap<string, string> {
    return this.#comms;
  }

  interrupt(): Promise<void> {
    if (this.#running === null) return Promise.resolve();
    const running = this.#pending.get(this.#running);
    if (!running) {
      // Its session is being started: it will not run at all.
      this.#stopped = this.#running;
      return Promise.resolve();
    }
    this.#process?.send({ type: "interrupt", sequence: running.sequence });
    this.#graceTimer ??= setTimeout(() => {
      this.#deaf = true;
      this.#process?.kill();
    }, this.#options.interruptGrace);
    return Promise.resolve();
  }

  /** Ends the session and starts a fresh one; all variables are lost. */
  async restart(): Promise<void> {
    this.#process?.kill();
    this.#process = null;
    this.#ready = null;
    this.#types?.clear();
    await this.start();
  }

  async close(): Promise<void> {
    this.#closed = true;
    await this.#types?.close();
    await this.#ready?.catch(() => {});
    this.#process?.kill();
    this.#process = null;
    if (this.#lockFile) await removeLockFile(this.#lockFile);
    this.#lockFile = null;
  }

  async #launch(): Promise<void> {
    if (this.#closed) {
      throw new Error("Cannot start the session as the kernel was closed");
    }
    const { notebookFolder, reach, grantFile, withheld, memoryLimit } =
      this.#options;
    const { limits, means } = this.#options;
    const grants = mergeGrants(
      this.#options.grants,
      await readGrants(grantFile, notebookFolder),
    );
    // While the process starts.
    const refused = refuseLinks({ notebookFolder, reach, grants, means })
      .catch((error: Error) => error);
    this.#lockFile ??= await copyLockFile(projectFolder);
    // The system's rules hold for folders that are there when it starts.
    await Deno.mkdir(join(projectFolder, "out"), { recursive: true })
      .catch(() => {});
    const settings = JSON.stringify({
      baseUrl: `${toFileUrl(notebookFolder).href.replace(/\/$/, "")}/`,
      // The runtime itself and its compiler take some 300 MB beside the cells.
      memoryLimit: (memoryLimit + 300) * 2 ** 20,
      grantFile,
      configFile: join(projectFolder, "deno.json"),
      keepSys: grants.sys !== undefined,
      drawsOutside: this.#options.drawing !== null,
    });
    const facts = {
      notebookFolder,
      reach,
      grants,
      withheld,
      lockFile: this.#lockFile,
    };
    const command = confinedCommand(Deno.execPath(), {
      args: sessionArguments({ ...facts, grantFile, memoryLimit, settings }),
      cwd: notebookFolder,
      clearEnv: true,
      env: sessionEnvironment(),
      stdin: "piped",
      stdout: "piped",
      stderr: "piped",
    }, { ...sessionReach(facts), limits, means });
    await new Promise<void>((resolve, reject) => {
      const session: SessionProcess = new SessionProcess(command, {
        frame: (frame) => {
          if (frame.message["type"] === "ready") resolve();
          else return this.#take(frame);
        },
        stderr: (text) => this.#tellStray("stderr", text),
        end: (end) => {
          reject(
            new Error(
              `Cannot start the session: ${
                end.lastWords.trim() || `code ${end.code}`
              }`,
            ),
          );
          if (this.#process === session) this.#ended(end);
        },
      }, {
        output: this.#options.outputLimit * 1e6,
        unlinked: this.#options.unlinkedLimit * 1e6,
      });
      this.#process = session;
    });
    // Without it sessions start as well, a little later.
    void warmCache().catch(() => {});
    const error = await refused;
    if (!error) return;
    const process = this.#process as SessionProcess | null;
    this.#process = null;
    process?.kill();
    throw error;
  }

  async #ask(
    type: string,
    message: Message,
    context: RequestContext | null,
    buffers: Uint8Array[] = [],
  ): Promise<Message> {
    const id = ++this.#next;
    if (context) {
      this.#contexts.set(context.requestId, context);
      this.#lastContext = context;
      this.#running = id;
      forgetOldest(this.#contexts, 1000);
    }
    try {
      while (this.#process === null || this.#ready === null) await this.start();
      await this.#ready;
      if (this.#stopped === id) return { value: stoppedOutcome };
      return await new Promise<Message>((resolve) => {
        this.#pending.set(id, {
          context,
          sequence: id,
          settle: (reply) => resolve(reply as Message),
        });
        this.#process!.send({
          type,
          id,
          sequence: id,
          requestId: context?.requestId ?? "",
          ...message,
        }, buffers);
      });
    } finally {
      this.#pending.delete(id);
      if (this.#running === id) {
        this.#running = null;
        if (this.#graceTimer !== null) clearTimeout(this.#graceTimer);
        this.#graceTimer = null;
      }
    }
  }

  #take({ message, buffers }: Frame): void | Promise<void> {
    switch (message["type"]) {
      case "stream":
        this.#target = {
          request: message["request"] as string,
          name: message["name"] as "stdout" | "stderr",
        };
        return;
      case "text": {
        const { request, name } = this.#target;
        this.#joiner.add(request, name, message["text"] as string);
        return this.#contextOf(request)?.ready();
      }
      case "output": {
        this.#joiner.flush();
        const output = message["output"] as Output;
        const context = this.#contextOf(message["request"] as string);
        context?.publish(
          "commId" in output ? { ...output, buffers: [...buffers] } : output,
        );
        // Reads no more while the clients are far behind
        return context?.ready();
      }
      case "stray":
        this.#tellStray(
          "stdout",
          this.#strayText.decode(buffers[0], {
            stream: true,
          }),
        );
        return;
      case "heard":
        // The cell goes on: the next interrupt is waited for anew
        if (this.#graceTimer !== null) clearTimeout(this.#graceTimer);
        this.#graceTimer = null;
        return;
      case "input":
        void this.#input(message);
        return;
      case "fetch":
        void this.#fetch(message);
        return;
      case "draw":
        return this.#draw(message, buffers);
      case "reply": {
        this.#joiner.flush();
        const comms = message["comms"] as [string, string][] | undefined;
        if (comms) this.#comms = new Map(comms);
        this.#pending.get(message["id"] as number)?.settle(message);
      }
    }
  }

  /** Whose outputs these are; what is too old belongs to the last request. */
  #contextOf(request: string): RequestContext | null {
    return this.#contexts.get(request) ?? this.#lastContext;
  }

  async #input(message: Message): Promise<void> {
    this.#joiner.flush();
    const { id } = message;
    const context = this.#contexts.get(message["request"] as string);
    try {
      if (!context) throw new Error("Cannot ask for input: the cell is over");
      const value = await context.requestInput(
        message["prompt"] as string,
        message["password"] as boolean,
      );
      this.#process?.send({ type: "input_reply", id, value });
    } catch (error) {
      const text = error instanceof Error ? error.message : String(error);
      this.#process?.send({ type: "input_reply", id, error: text });
    }
  }

  async #fetch({ id, name }: Message): Promise<void> {
    const error = await fetchPackage(
      String(name),
      this.#lockFile,
      (text) => this.#tellStray("stderr", text),
    );
    this.#process?.send({ type: "fetched", id, error });
  }

  #draw({ id, scale }: Message, buffers: readonly Uint8Array[]): Promise<void> {
    // The session that asked: another one does not know of it.
    const process = this.#process;
    return this.#pictures.order(
      buffers[0] ?? new Uint8Array(0),
      Number(scale),
      async (parts) => await process?.send({ type: "drawn", id }, parts),
    );
  }

  /** Words that no cell sent: of the runtime, or written past the session. */
  #tellStray(name: "stdout" | "stderr", text: string): void {
    const context = this.#running === null
      ? this.#lastContext
      : this.#pending.get(this.#running)?.context;
    this.#joiner.flush();
    void context?.publish({ type: "stream", name, text });
  }

  #ended(end: SessionEnd): void {
    this.#joiner.flush();
    this.#process = null;
    this.#ready = null;
    this.#types?.clear();
    this.#comms = new Map();
    if (this.#pending.size === 0) this.#tellIdleLoss(end);
    for (const { settle } of [...this.#pending.values()]) {
      settle(end as unknown as Message);
    }
  }

  /** A session that ends between cells says so under the last one. */
  #tellIdleLoss(end: SessionEnd): void {
    if (this.#closed || this.#lastContext === null) return;
    const { ename, evalue } = describeLoss(end, this.#options);
    this.#tellStray("stderr", `${ename}: ${evalue}\n`);
  }

  #lost(end: SessionEnd): ExecuteOutcome {
    const deaf = this.#deaf;
    this.#deaf = false;
    const seconds = this.#options.interruptGrace / 1000;
    const { ename, evalue } = deaf
      ? {
        ename: "KeyboardInterrupt",
        evalue:
          `The cell did not stop within ${seconds} s of the interrupt, so the session was restarted. The variables were lost: run the cells again from the top of the notebook`,
      }
      : describeLoss(end, this.#options);
    if (!this.#closed) void this.start().catch(() => {});
    return {
      status: "error",
      sessionLost: true,
      ename,
      evalue,
      traceback: [`${ename}: ${evalue}`],
    };
  }
}

function forgetOldest<K, V>(map: Map<K, V>, most: number): void {
  for (const key of map.keys()) {
    if (map.size <= most) return;
    map.delete(key);
  }
}
