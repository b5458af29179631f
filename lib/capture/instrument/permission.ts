import { InstrumentError } from "./instrument_error.ts";

/**
 * Decides whether something outside may be used. Is asked each time, by host and
 * port or by program.
 */
export type AskPermission = (
  what: { kind: "host" | "program"; name: string },
) => Promise<boolean>;

/** Asks the person through the runtime's own prompt. */
export const askRuntime: AskPermission = async ({ kind, name }) => {
  const wanted: Deno.PermissionDescriptor = kind === "host"
    ? { name: "net", host: name }
    : { name: "run", command: name };
  const { state } = await Deno.permissions.request(wanted);
  return state === "granted";
};

/** Asks, and throws if the answer is no. */
export async function requirePermission(
  ask: AskPermission,
  kind: "host" | "program",
  name: string,
): Promise<void> {
  if (await ask({ kind, name })) return;
  throw new InstrumentError(
    "not allowed",
    kind === "host"
      ? `Cannot connect to ${name} as it was not allowed. Allow it when asked, or start with --allow-net=${name}`
      : `Cannot run '${name}' as it was not allowed. Allow it when asked, or start with --allow-run=${name}`,
  );
}
