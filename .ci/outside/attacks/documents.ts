import { join } from "@std/path";
import { demand } from "../tally.ts";
import { project } from "./place.ts";

/** What the documents say, white space and marks left out. */
export async function documents(): Promise<string> {
  const texts = await Promise.all(
    ["README.md", "notebooks/guide/kernel.md"].map((path) =>
      Deno.readTextFile(join(project, path))
    ),
  );
  return texts.join(" ").replace(/[`*]/g, "").replace(/\s+/g, " ");
}

/** The sentences of the README on permissions, one by one. */
export async function sentencesOfReadme(): Promise<string[]> {
  const text = (await Deno.readTextFile(join(project, "README.md")))
    .replace(/[`*]/g, "").replace(/\s+/g, " ");
  const found = /Notebooks may read the project.*?(?= see \[the guide\])/.exec(
    text,
  );
  demand(found !== null, "the README has no paragraph on permissions");
  return found[0].split(/(?<=[.;:]) /)
    .map(withoutStop);
}

/** The guide's page on the kernel, from its permissions to its limits. */
async function guideOnPermissions(): Promise<string> {
  const text = await Deno.readTextFile(
    join(project, "notebooks/guide/kernel.md"),
  );
  const found = /\*\*Permissions\.\*\*[^]*(?=\n\*\*Limits\.\*\*)/.exec(text);
  demand(found !== null, "the guide has no paragraph on permissions");
  return found[0];
}

/** The sentences there, one by one. */
export async function sentencesOfGuide(): Promise<string[]> {
  return (await guideOnPermissions())
    .replace(/```[^]*?```/g, "")
    .replace(/^\|.*$/gm, "")
    .replace(/\*\*\w+\.\*\*/g, "")
    .replace(/[`*]/g, "").replace(/\s+/g, " ").trim()
    .split(/(?<=[.;:]) (?=[A-Za-z])/)
    .map(withoutStop);
}

/** Names of the levels in the table there. */
export async function levelsOfGuide(): Promise<string[]> {
  const rows = (await guideOnPermissions()).match(/^\|.*$/gm) ?? [];
  return rows.slice(2).map((row) => row.split("|")[1]!.trim());
}

function withoutStop(sentence: string): string {
  return sentence.replace(/[.;:]$/, "");
}
