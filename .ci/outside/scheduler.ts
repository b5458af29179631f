/**
 * 400 captures in 4 shards of an array job, on a Slurm of this machine: one node
 * on loopback. The node dies in the middle (its daemon and all that it runs),
 * comes back, and the scheduler requeues what it ran. Nothing may be lost and
 * nothing may count twice.
 *
 * @module
 */
import { fromFileUrl, join } from "@std/path";
import { encodeCapture, readBatch, simulateCapture } from "fringebook";
import { createRandom } from "fringebook/signal";
import { findPython } from "../../tests/zoo/find_python.ts";
import { check, demand, fail, finish } from "./tally.ts";

const captureCount = 400;
const shardCount = 4;
const root = fromFileUrl(new URL("../../", import.meta.url));
const folder = await Deno.makeTempDir({ prefix: "scheduler-" });
const decoder = new TextDecoder();
const sleep = (time: number) =>
  new Promise((resolve) => setTimeout(resolve, time));

async function run(
  command: string,
  args: readonly string[],
  env: Record<string, string> = {},
): Promise<{ code: number; text: string }> {
  const { code, stdout, stderr } = await new Deno.Command(command, {
    args: [...args],
    env: { ...env, SLURM_CONF: join(folder, "slurm.conf") },
    cwd: root,
  }).output();
  return { code, text: decoder.decode(stdout) + decoder.decode(stderr) };
}

async function needed(command: string, ...args: string[]): Promise<string> {
  const { code, text } = await run(command, args);
  demand(code === 0, `${command} ${args.join(" ")}: ${text.slice(0, 1500)}`);
  return text;
}

/** Waits until something is so; says what it was when time is up. */
async function until(
  what: string,
  holds: () => Promise<boolean>,
  limit = 90_000,
): Promise<void> {
  const end = performance.now() + limit;
  while (!await holds()) {
    demand(performance.now() < end, `${what} took more than ${limit} ms`);
    await sleep(250);
  }
}

/** Daemons that run in the foreground and end with this suite. */
const daemons: Deno.ChildProcess[] = [];

function start(command: string, ...args: string[]): Deno.ChildProcess {
  const child = new Deno.Command(command, {
    args,
    env: { SLURM_CONF: join(folder, "slurm.conf") },
    stdout: "null",
    stderr: "null",
  }).spawn();
  daemons.push(child);
  return child;
}

/** Processes below one, itself last. */
async function family(pid: number): Promise<number[]> {
  const { text } = await run("ps", ["-e", "-o", "pid=,ppid="]);
  const pairs = text.trim().split("\n").map((line) =>
    line.trim().split(/\s+/).map(Number)
  );
  const below = (parent: number): number[] =>
    pairs.filter(([, up]) => up === parent)
      .flatMap(([own]) => [...below(own!), own!]);
  return [...below(pid), pid];
}

function kill(pid: number): void {
  try {
    Deno.kill(pid, "SIGKILL");
  } catch {
    // It has ended by itself.
  }
}

/** Step daemons leave their parent: found by their configuration. */
async function jobProcesses(): Promise<number[]> {
  const { text } = await run("ps", ["-e", "-o", "pid=,args="]);
  const steps = text.trim().split("\n")
    .filter((line) => /\d slurmstepd: \[|slurmstepd/.test(line))
    .map((line) => parseInt(line));
  return (await Promise.all(steps.map(family))).flat();
}

const host = (await run("hostname", ["-s"])).text.trim();
await Deno.writeTextFile(
  join(folder, "slurm.conf"),
  `ClusterName=bench
SlurmctldHost=${host}(127.0.0.1)
SlurmUser=root
SlurmdUser=root
AuthType=auth/munge
AuthInfo=socket=${folder}/munge.socket,cred_expire=5
SlurmctldPort=16817
SlurmdPort=16818
StateSaveLocation=${folder}/state
SlurmdSpoolDir=${folder}/spool
SlurmctldPidFile=${folder}/slurmctld.pid
SlurmdPidFile=${folder}/slurmd.pid
SlurmctldLogFile=${folder}/slurmctld.log
SlurmdLogFile=${folder}/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
MpiDefault=none
ReturnToService=2
SlurmdTimeout=5
InactiveLimit=0
SchedulerParameters=sched_interval=2,sched_min_interval=100000
NodeName=${host} NodeAddr=127.0.0.1 CPUs=2 State=UNKNOWN
PartitionName=bench Nodes=${host} Default=YES State=UP
`,
);
for (const name of ["state", "spool"]) await Deno.mkdir(join(folder, name));
await Deno.chmod(folder, 0o755);

/** The authentication service, with a key of this suite's own. */
async function startMunge(): Promise<void> {
  const key = join(folder, "munge.key");
  await Deno.writeFile(key, crypto.getRandomValues(new Uint8Array(128)), {
    mode: 0o600,
  });
  start(
    "munged",
    "--foreground",
    "--force",
    `--key-file=${key}`,
    `--socket=${folder}/munge.socket`,
    `--pid-file=${folder}/munge.pid`,
    `--log-file=${folder}/munge.log`,
    `--seed-file=${folder}/munge.seed`,
  );
  await until(
    "munge",
    async () =>
      (await run("munge", ["-n", "-S", `${folder}/munge.socket`])).code === 0,
  );
}

const captures = join(folder, "captures");
const list = join(folder, "captures.txt");
const output = join(folder, "results.jsonl");
const outputs = Array.from(
  { length: shardCount },
  (_, i) => join(folder, `results-${i + 1}-of-${shardCount}.jsonl`),
);

/** Captures of a moving surface, each at a speed of its own. */
async function makeCaptures(): Promise<void> {
  await Deno.mkdir(captures);
  const random = createRandom(22);
  const paths: string[] = [];
  for (let i = 0; i < captureCount; i++) {
    const speed = 4e-3 + 4e-3 * random.uniform();
    const capture = simulateCapture({
      distance: (time) => 0.1 + speed * time,
      samplingRate: 2e5,
      duration: 0.01,
      feedbackParameter: 0.5,
      drive: null,
      seed: i,
    });
    const path = join(captures, `${String(i).padStart(3, "0")}.wav`);
    await Deno.writeFile(path, encodeCapture(capture, { format: "WAV" }));
    paths.push(path);
  }
  await Deno.writeTextFile(list, paths.join("\n") + "\n");
}

const job = `#!/bin/sh
#SBATCH --array=1-${shardCount}
#SBATCH --requeue
#SBATCH --open-mode=append
#SBATCH --output=${folder}/job-%a.log
cd '${root}'
exec '${Deno.execPath()}' run -A lib/cli/measure.ts --list '${list}' \\
  --wavelength 650nm --as speed --angle 0rad \\
  --shard scheduler --output '${output}'
`;

async function lineCount(): Promise<number> {
  const texts = await Promise.all(
    outputs.map((path) => Deno.readTextFile(path).catch(() => "")),
  );
  return texts.join("").split("\n").filter((line) => line !== "").length;
}

const zooOutput = join(folder, "zoo");
/** Benches of the zoo that take a second each. */
const zooFlags = [
  ...[0, 1, 2, 3].flatMap((number) => ["--bench", `speed-${number}`]),
  "--no-bound",
  ...["--lanes", "1", "--output"],
];

const zooJob = (python: string) =>
  `#!/bin/sh
#SBATCH --array=1-2
#SBATCH --output=${folder}/zoo-%a.log
cd '${root}'
exec '${Deno.execPath()}' run -A --no-check tests/zoo/zoo.ts \\
  ${zooFlags.join(" ")} '${zooOutput}' --python '${python}' --shard scheduler
`;

/** Names and outcomes of a run of the zoo. */
async function zooOutcomes(file: string): Promise<string> {
  const { records } = JSON.parse(await Deno.readTextFile(file)) as {
    records: { name: string; ours: { outcome: string; error: number } }[];
  };
  return records.map(({ name, ours }) =>
    `${name} ${ours.outcome} ${ours.error}`
  ).join(", ");
}

/** States of the job's tasks, such as `RUNNING` or `PENDING`. */
async function states(): Promise<string[]> {
  const { text } = await run("squeue", ["-h", "-r", "-o", "%T"]);
  return text.trim().split(/\s+/).filter(Boolean);
}

try {
  await check(
    "400 captures in 4 shards survive the death of the node",
    async () => {
      await makeCaptures();
      await startMunge();
      start("slurmctld", "-D", "-f", join(folder, "slurm.conf"));
      let node = start("slurmd", "-D", "-f", join(folder, "slurm.conf"));
      await until(
        "the node",
        async () => /idle/.test((await run("sinfo", ["-h", "-o", "%T"])).text),
      );
      const script = join(folder, "job.sh");
      await Deno.writeTextFile(script, job);
      await needed("sbatch", script);
      await until("the first captures", async () => await lineCount() >= 40);
      for (const pid of await jobProcesses()) kill(pid);
      for (const pid of await family(node.pid)) kill(pid);
      for (const pid of await jobProcesses()) kill(pid);
      await node.status;
      const before = await lineCount();
      demand(before < captureCount, `nothing was left to do: ${before} lines`);
      await until(
        "the controller, to see that the node is gone",
        async () => !(await states()).includes("RUNNING"),
      );
      // A machine that dies may leave half a line.
      const torn = outputs[0]!;
      await Deno.writeTextFile(torn, '{"file": "/half/a/li', { append: true });
      node = start("slurmd", "-D", "-f", join(folder, "slurm.conf"));
      await until(
        "the requeued job",
        async () => (await states()).length === 0,
        150_000,
      );
      console.log(
        `${before} captures were measured when the node died, ${await lineCount()} lines stand in the end`,
      );
    },
  );
  await check("nothing is lost and nothing counts twice", async () => {
    const { outcomes, conflicts, brokenLines } = await readBatch(outputs);
    const files = new Set(outcomes.map(({ file }) => file));
    demand(files.size === captureCount, `${files.size} captures`);
    demand(outcomes.length === captureCount, `${outcomes.length} outcomes`);
    const failed = outcomes.filter(({ status }) => status === "failed");
    demand(failed.length === 0, JSON.stringify(failed[0]));
    demand(conflicts?.length === 0, JSON.stringify(conflicts?.[0]));
    demand(brokenLines.length >= 1, "the torn line was not named");
    const measured = (await Promise.all(
      outputs.map((path) => Deno.readTextFile(path)),
    )).join("").split("\n")
      .filter((line) => line.includes('"status":"measured"'));
    demand(
      measured.length === captureCount,
      `${measured.length} measured lines: a requeued shard measured some again`,
    );
  });
  await check("the summary joins the shards", async () => {
    const { code, text } = await run(Deno.execPath(), [
      "task",
      "summary",
      ...outputs,
      "--output",
      join(folder, "summaries"),
    ]);
    demand(code === 0, text.slice(-1500));
    demand(
      text.includes(`${captureCount} captures in ${shardCount} files, 0 of`),
      text.slice(-1500),
    );
  });
  await check("the zoo runs in parts the same way", async () => {
    const python = await findPython();
    const script = join(folder, "zoo.sh");
    await Deno.writeTextFile(script, zooJob(python));
    await needed("sbatch", script);
    await until("the zoo", async () => (await states()).length === 0, 150_000);
    const zoo = ["run", "-A", "--no-check", "tests/zoo/zoo.ts", ...zooFlags];
    const alone = join(folder, "alone");
    await needed(Deno.execPath(), ...zoo, alone, "--python", python);
    const parts = [1, 2].map((part) => `${zooOutput}/zoo-${part}-of-2.json`);
    const text = await needed(
      Deno.execPath(),
      ...[...zoo, zooOutput, "--join", ...parts],
    );
    demand(text.includes("4 benches"), text.slice(-1500));
    const [whole, joined] = await Promise.all(
      [alone, zooOutput].map((each) => zooOutcomes(`${each}/zoo.json`)),
    );
    console.log(joined);
    demand(whole === joined, `in one process: ${whole}`);
  });
} finally {
  await run("scancel", ["--user=root"]);
  for (const { pid } of daemons.reverse()) {
    for (const each of await family(pid)) kill(each);
  }
  for (const pid of await jobProcesses()) kill(pid);
  const logs = ["slurmctld.log", "slurmd.log", "job-1.log"];
  if (Deno.args.includes("--logs")) {
    for (const name of logs) {
      console.log(`--- ${name}`);
      console.log(
        (await Deno.readTextFile(join(folder, name)).catch(() => ""))
          .slice(-3000),
      );
    }
  }
  await Deno.remove(folder, { recursive: true }).catch((error) =>
    fail(String(error))
  );
}
finish();
