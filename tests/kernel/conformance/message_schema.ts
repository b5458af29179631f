/**
 * What every message of the kernel must hold, written from the Jupyter
 * messaging specification 5.4 (jupyter_client/docs/messaging.rst).
 *
 * @module
 */
import type {
  ClientChannel,
  IncomingMessage,
} from "../../../lib/kernel/mod.ts";

type Check = (value: unknown) => boolean;

const text: Check = (value) => typeof value === "string";
const flag: Check = (value) => typeof value === "boolean";
const count: Check = (value) => Number.isInteger(value) && Number(value) >= 0;
const object: Check = (value) =>
  typeof value === "object" && value !== null && !Array.isArray(value);
const listOf = (check: Check): Check => (value) =>
  Array.isArray(value) && value.every(check);
const oneOf = (...values: unknown[]): Check => (value) =>
  values.includes(value);
const mapOf = (check: Check): Check => (value) =>
  object(value) && Object.values(value as object).every(check);

/** Text types hold one text, JSON types hold what they like. */
const bundle: Check = (value) =>
  object(value) &&
  Object.entries(value as object).every(([mime, data]) =>
    /^[\w.+-]+\/[\w.+-]+$/.test(mime) &&
    (mime.endsWith("json") || typeof data === "string")
  );

type Schema = Readonly<Record<string, Check>>;

const error: Schema = { ename: text, evalue: text, traceback: listOf(text) };
const display: Schema = { data: bundle, metadata: object, transient: object };

/** Fields of the content that must be there, by type of message. */
const PUBLISHED: Readonly<Record<string, Schema>> = {
  status: { execution_state: oneOf("busy", "idle", "starting") },
  execute_input: { code: text, execution_count: count },
  stream: {
    name: oneOf("stdout", "stderr"),
    text: (value) => text(value) && value !== "",
  },
  display_data: display,
  update_display_data: {
    ...display,
    transient: (value) => object(value) && "display_id" in (value as object),
  },
  execute_result: { ...display, execution_count: count },
  error,
  clear_output: { wait: flag },
  comm_open: { comm_id: text, target_name: text, data: object },
  comm_msg: { comm_id: text, data: object },
  comm_close: { comm_id: text, data: object },
  iopub_welcome: { subscription: text },
  shutdown_reply: { status: oneOf("ok"), restart: flag },
};

const userExpression: Check = (value) => {
  const { status, ...rest } = value as Record<string, unknown>;
  return status === "ok"
    ? bundle(rest["data"]) && object(rest["metadata"])
    : status === "error" && fits(rest, error);
};

/** Fields of a reply whose status is ok, or which has a status of its own. */
const REPLIES: Readonly<Record<string, Schema>> = {
  execute_reply: {
    execution_count: count,
    user_expressions: mapOf(userExpression),
    payload: listOf(object),
  },
  kernel_info_reply: {
    protocol_version: (value) => /^5\.\d+$/.test(String(value)),
    implementation: text,
    implementation_version: text,
    language_info: (value) =>
      object(value) && fits(value as Record<string, unknown>, {
        name: text,
        version: text,
        mimetype: text,
        file_extension: (value) => /^\./.test(String(value)),
      }),
    banner: text,
    help_links: listOf(object),
  },
  complete_reply: {
    matches: listOf(text),
    cursor_start: count,
    cursor_end: count,
    metadata: object,
  },
  inspect_reply: { found: flag, data: bundle, metadata: object },
  history_reply: {
    history: listOf((entry) => Array.isArray(entry) && entry.length === 3),
  },
  comm_info_reply: {
    comms: mapOf((comm) =>
      text((comm as Record<string, unknown>)["target_name"])
    ),
  },
  connect_reply: {},
  interrupt_reply: {},
  shutdown_reply: { restart: flag },
  is_complete_reply: {
    status: oneOf("complete", "incomplete", "invalid", "unknown"),
  },
};

function fits(content: Record<string, unknown>, schema: Schema): boolean {
  return misfit(content, schema) === null;
}

function misfit(
  content: Record<string, unknown>,
  schema: Schema,
): string | null {
  for (const [field, check] of Object.entries(schema)) {
    if (!(field in content)) return `has no '${field}'`;
    if (!check(content[field])) {
      return `has '${field}' = ${JSON.stringify(content[field])}`;
    }
  }
  return null;
}

function replySchema(type: string, content: Record<string, unknown>): Schema {
  const schema = REPLIES[type];
  if (schema === undefined) throw new Error(`'${type}' is no reply of ours`);
  if (type === "is_complete_reply") {
    return content["status"] === "incomplete"
      ? { ...schema, indent: text }
      : schema;
  }
  const executes: Schema = type === "execute_reply"
    ? { execution_count: count }
    : {};
  switch (content["status"]) {
    case "ok":
      return schema;
    case "error":
      return { ...error, ...executes };
    case "aborted":
      return executes;
    default:
      return { status: oneOf("ok", "error", "aborted") };
  }
}

/**
 * @param message A message from the kernel.
 * @param channel Where it came.
 * @throws {Error} If it is not as the specification says.
 */
export function checkMessage(
  message: IncomingMessage,
  channel: ClientChannel,
): void {
  const { header, parentHeader, content } = message;
  const type = header.msg_type;
  const fail = (why: string) => {
    throw new Error(`${channel} ${type} ${why}`);
  };
  const wrong = misfit(header, {
    msg_id: text,
    session: text,
    username: text,
    date: (value) => /^\d{4}-\d\d-\d\dT[\d:.]+Z$/.test(String(value)),
    version: oneOf("5.4"),
  });
  if (wrong !== null) fail(wrong);
  const hasParent = typeof parentHeader["msg_id"] === "string";
  const startless = type === "iopub_welcome" ||
    content["execution_state"] === "starting";
  if (hasParent === startless) fail("has the wrong kind of parent");
  const schema = channel === "iopub"
    ? PUBLISHED[type]
    : channel === "stdin"
    ? { prompt: text, password: flag }
    : replySchema(type, content);
  if (schema === undefined) return fail("is not known on this channel");
  const why = misfit(content, schema);
  if (why !== null) fail(why);
}
