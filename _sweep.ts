import { exportedFunctions, sweep } from "./tests/options/sweep.ts";
Deno.chdir(Deno.makeTempDirSync());
let calls = 0, bad = 0, fns = 0;
const only = Deno.args;
for (const name of exportedFunctions()) {
  if (only.length && !only.includes(name)) continue;
  const t = performance.now();
  const r = await sweep(name);
  calls += r.calls; bad += r.errors.length; if (r.errors.length) fns++;
  const ms = performance.now() - t;
  if (ms > 200) console.log("SLOW", name, ms.toFixed(0));
  const seen = new Map<string, string>();
  for (const e of r.errors) if (!seen.has(e.message)) seen.set(e.message, e.call);
  if (r.errors.length) console.log(name, r.errors.length, [...seen].slice(0, only.length ? 20 : 1).map(([m, c]) => `(${c}) ${m.slice(0, 90)}`).join(" | "));
}
console.log({ calls, bad, fns });
