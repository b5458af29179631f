/**
 * Asks the registry for published findings about the packages of
 * lib/runtime/packages.lock (deno.lock and those fetched when first used) and
 * compares the answer with `.ci/known_findings.json`, where each finding is
 * explained. Where the registry does not answer, says so and checks the list
 * against the lock file alone.
 *
 * @module
 */
import { check, demand, finish } from "./tally.ts";

/** One finding with its explanation. */
interface Finding {
  readonly package: string;
  readonly version: string;
  /** The package whose script carries it; its own entry where absent. */
  readonly within?: string;
  readonly advisory: string;
  readonly cve: string;
  readonly source: string;
  readonly why: string;
}

const listPath = ".ci/known_findings.json";
const { date, findings } = JSON.parse(Deno.readTextFileSync(listPath)) as {
  date: string;
  findings: readonly Finding[];
};
const lock = JSON.parse(Deno.readTextFileSync("lib/runtime/packages.lock")) as {
  npm: Record<string, unknown>;
};

const claim = (what: string, holds: boolean) =>
  check(what, () => demand(holds, "does not hold"));

/** `name@version` of every package, without the peers behind it. */
const locked = new Set(
  Object.keys(lock.npm).map((key) => {
    const at = key.indexOf("@", 1);
    return `${key.slice(0, at)}@${key.slice(at + 1).split("_")[0]}`;
  }),
);

for (const finding of findings) {
  const { package: name, version, within, advisory, cve, source, why } =
    finding;
  await claim(
    `${advisory} ${cve}: ${
      within ?? `${name} ${version}`
    } is in the lock file (else take it off the list)`,
    locked.has(within ?? `${name}@${version}`),
  );
  await claim(
    `${advisory} ${cve}: has a source and a reason`,
    source.trim() !== "" && why.trim() !== "",
  );
}

const { code, stdout, stderr } = await new Deno.Command(Deno.execPath(), {
  args: ["audit", "--lock=lib/runtime/packages.lock"],
  env: { NO_COLOR: "1" },
}).output();
const decoder = new TextDecoder();
const answer = decoder.decode(stdout) + decoder.decode(stderr);
const named = [
  ...new Set(answer.match(/GHSA(?:-[a-z0-9]{4}){3}|CVE-\d{4}-\d{4,}/g) ?? []),
];
const answered = named.length > 0 ||
  /vulnerabilit/i.test(answer);
if (answered) {
  const known = new Set(
    findings.flatMap(({ advisory, cve }) => [advisory, cve]),
  );
  for (const id of named) {
    await claim(`${id} is explained in ${listPath}`, known.has(id));
  }
  await claim(
    "the registry names what it found, so that it can be explained",
    code === 0 || named.length > 0,
  );
  if (code !== 0) console.log(answer);
} else {
  console.log(
    `NOT ASKED: the registry gave no list of findings (exit code ${code}): ${
      decoder.decode(stderr).trim().split("\n").slice(0, 2).join(" ")
    }`,
  );
  console.log(
    `Only the list of ${date} was checked. Run 'deno audit --lock=lib/runtime/packages.lock' where the registry answers.`,
  );
}

finish();
