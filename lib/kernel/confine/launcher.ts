/**
 * Confines itself as a plan says, then becomes the program: it calls the
 * system through its C library and gives way by `execv`, which keeps what was
 * set. Its arguments: how many pieces the plan has, the pieces of its JSON, the
 * program, the program's arguments.
 *
 * Sources: the manual pages landlock(7), seccomp(2), prctl(2), setrlimit(2).
 *
 * @module
 */
import type { ConfinementPlan, LandlockPlan } from "./plan.ts";

// The same on x86_64 and aarch64.
const landlockCreateRuleset = 444;
const landlockAddRule = 445;
const landlockRestrictSelf = 446;
const rulePathBeneath = 1;
const setNoNewPrivileges = 38;
const setSeccomp = 22;
const seccompModeFilter = 2;
const openPath = 0o10000000;
const closeOnExec = 0o2000000;

const libc = Deno.dlopen("libc.so.6", {
  syscall: { parameters: ["i64", "i64", "i64", "i64", "i64"], result: "i64" },
  prctl: { parameters: ["i32", "u64", "u64", "u64", "u64"], result: "i32" },
  setrlimit: { parameters: ["i32", "buffer"], result: "i32" },
  open: { parameters: ["buffer", "i32"], result: "i32" },
  close: { parameters: ["i32"], result: "i32" },
  execv: { parameters: ["buffer", "buffer"], result: "i32" },
  __errno_location: { parameters: [], result: "pointer" },
}).symbols;

function lastError(): number {
  const at = libc.__errno_location();
  return at === null ? 0 : new Deno.UnsafePointerView(at).getInt32();
}

/** Ends the launcher where a step failed: nothing runs half confined. */
function demand(result: number | bigint, step: string): number {
  const value = Number(result);
  if (value >= 0) return value;
  console.error(`Cannot confine the session: ${step}, error ${lastError()}`);
  Deno.exit(1);
}

function address(bytes: BufferSource): bigint {
  return Deno.UnsafePointer.value(Deno.UnsafePointer.of(bytes));
}

function textOf(text: string): Uint8Array<ArrayBuffer> {
  return new TextEncoder().encode(`${text}\0`);
}

function restrictFiles(plan: LandlockPlan): void {
  const attributes = new BigUint64Array(
    [plan.files, plan.network, plan.scope].map(BigInt),
  );
  const ruleset = demand(
    libc.syscall(
      BigInt(landlockCreateRuleset),
      address(attributes),
      BigInt(plan.attributeLength),
      0n,
      0n,
    ),
    "landlock_create_ruleset",
  );
  const beneath = new Uint8Array(12);
  const view = new DataView(beneath.buffer);
  for (const { path, rights } of plan.rules) {
    const file = libc.open(textOf(path), openPath | closeOnExec);
    // What is not there needs no rule.
    if (file < 0) continue;
    view.setBigUint64(0, BigInt(rights), true);
    view.setInt32(8, file, true);
    demand(
      libc.syscall(
        BigInt(landlockAddRule),
        BigInt(ruleset),
        BigInt(rulePathBeneath),
        address(beneath),
        0n,
      ),
      `landlock_add_rule for '${path}'`,
    );
    libc.close(file);
  }
  demand(
    libc.syscall(BigInt(landlockRestrictSelf), BigInt(ruleset), 0n, 0n, 0n),
    "landlock_restrict_self",
  );
}

function filterCalls(base64: string): void {
  const filter = Uint8Array.fromBase64(base64);
  // struct sock_fprog: number of instructions, and where they are
  const program = new BigUint64Array(2);
  new DataView(program.buffer).setUint16(0, filter.length / 8, true);
  program[1] = address(filter);
  demand(
    libc.prctl(
      setSeccomp,
      BigInt(seccompModeFilter),
      address(program),
      0n,
      0n,
    ),
    "seccomp",
  );
}

function become(program: string, args: readonly string[]): never {
  const texts = [program, ...args].map(textOf);
  const table = new BigUint64Array(texts.length + 1);
  texts.forEach((text, index) => table[index] = address(text));
  libc.execv(texts[0]!, table);
  demand(-1, `execv of '${program}'`);
  throw new Error("unreachable");
}

const [count, ...rest] = Deno.args;
const plan = JSON.parse(
  rest.splice(0, Number(count)).join(""),
) as ConfinementPlan;
const [program, ...args] = rest;
for (const [resource, value] of plan.limits) {
  const pair = new BigUint64Array([BigInt(value), BigInt(value)]);
  demand(libc.setrlimit(resource, pair), `setrlimit ${resource}`);
}
demand(libc.prctl(setNoNewPrivileges, 1n, 0n, 0n, 0n), "no new privileges");
if (plan.landlock) restrictFiles(plan.landlock);
if (plan.filter) filterCalls(plan.filter);
become(program!, args);
