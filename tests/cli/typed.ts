import { performTask, type Task } from "../../lib/cli/task/mod.ts";

/** Runs a task in this process and collects what it says. */
export async function typed(task: Task, ...given: string[]) {
  const said: string[] = [];
  const { log, error } = console;
  console.log = console.error = (line: string) => void said.push(line);
  try {
    const code = await performTask(task, given);
    return { code, said: said.join("\n") };
  } finally {
    Object.assign(console, { log, error });
  }
}
