/**
 * `deno task record`: the key of a laboratory, signatures and certificates of
 * calibration records, and their verification.
 *
 * Exit codes: 0 done, 1 a record is not in order, 2 wrong arguments.
 *
 * @module
 */
import { join } from "@std/path";
import { writeWhole } from "../notebook/mod.ts";
import {
  calibrationCertificate,
  createSigningKey,
  findLatestCalibrationRecord,
  fingerprintOfKey,
  loadCalibrationRecord,
  loadRecordSignature,
  RecordError,
  signCalibrationRecord,
} from "../record/mod.ts";
import { stateFolder } from "../runtime/mod.ts";
import { unstatedLines } from "./note/certificate_flags.ts";
import { printPage } from "./note/print_page.ts";
import {
  flagHelp,
  readFlags,
  runTask,
  type Task,
  textFlag,
  UsageError,
} from "./task/mod.ts";

const flags = {
  "owner": textFlag("key: whose it is, such as the laboratory.", "NAME", ""),
  "key": textFlag(
    "The key; no notebook can read the usual one.",
    "FILE",
    "in your folder for programs' data",
  ),
  "signed-by": textFlag(
    "verify: every record must be signed with this key.",
    "FINGERPRINT",
    "",
  ),
  "output": textFlag(
    "certificate, sign: where the certificate goes; FILE.pdf is printed with a Chromium browser.",
    "FILE",
    "beside the record",
  ),
} as const;

interface Values {
  readonly owner?: string;
  readonly key?: string;
  readonly "signed-by"?: string;
  readonly output?: string;
}

/** The task. */
export const task: Task = {
  name: "record",
  help: `deno task record key|sign|verify|certificate [RECORD …] [options]

  key --owner NAME          makes the signing key of the laboratory, once; its
                            fingerprint goes to those who verify
  sign RECORD               signs a record, in a file beside it, and writes its
                            certificate
  verify RECORD|FOLDER …    content, chain of revisions and signature
  certificate RECORD        writes the certificate as a page to print, or a PDF

${flagHelp(flags)}

Exit codes: 0 done, 1 a record is not in order, 2 wrong arguments.`,
  run: record,
};

function keyPath(values: Values): string {
  const folder = stateFolder();
  if (values.key) return values.key;
  if (folder === null) {
    throw new UsageError("Cannot find your home folder: give --key FILE");
  }
  return join(folder, "lab.key");
}

async function makeKey(values: Values): Promise<void> {
  if (!values.owner) {
    throw new UsageError(
      "Cannot make a key as it is not said whose it is: give --owner NAME",
    );
  }
  const path = keyPath(values);
  const publicKey = await createSigningKey(path, values.owner);
  console.log(`Key:         ${path} (only you can read it; keep a copy safe)`);
  console.log(`Owner:       ${values.owner}`);
  console.log(`Fingerprint: ${await fingerprintOfKey(publicKey)}`);
}

async function writeCertificate(
  record: string,
  output: string | undefined,
): Promise<void> {
  const content = await loadCalibrationRecord(record);
  const signature = await loadRecordSignature(record, content);
  const fingerprint = signature === null
    ? null
    : await fingerprintOfKey(signature.publicKey);
  const path = output ?? record.replace(/\.json$/, "") + ".certificate.html";
  const page = calibrationCertificate(content, { signature, fingerprint });
  if (/\.pdf$/i.test(path)) {
    if (!await printPage(page, path)) {
      throw new UsageError(
        `Cannot print '${path}' as no browser was found that prints: leave --output out, open the page in yours and print it`,
      );
    }
  } else await writeWhole(path, page);
  console.log(`Certificate: ${path}`);
  for (const line of unstatedLines(content)) console.log(line);
}

/** Records of files and folders, none twice. */
async function recordsOf(paths: readonly string[]): Promise<string[]> {
  const found = new Set<string>();
  for (const path of paths) {
    if (!(await Deno.stat(path)).isDirectory) {
      found.add(path);
      continue;
    }
    const names = [...Deno.readDirSync(path)].map(({ name }) => name)
      .filter((name) => /-r\d+\.json$/.test(name)).sort();
    if (names.length === 0) throw new UsageError(`No record lies in '${path}'`);
    for (const name of names) found.add(join(path, name));
    // The whole chain, down to the first
    await findLatestCalibrationRecord(path);
  }
  return [...found];
}

async function verify(paths: readonly string[], values: Values): Promise<void> {
  if (paths.length === 0) {
    throw new UsageError("Cannot verify as no record or folder is named");
  }
  const wanted = values["signed-by"]?.replace(/\s+/g, "").toLowerCase();
  for (const path of await recordsOf(paths)) {
    const record = await loadCalibrationRecord(path);
    const signature = await loadRecordSignature(path, record);
    const fingerprint = signature === null
      ? null
      : await fingerprintOfKey(signature.publicKey);
    if (
      wanted !== undefined && fingerprint?.replaceAll(" ", "") !== wanted
    ) {
      throw new RecordError(
        "signature",
        `Cannot trust '${path}' as it is ${
          fingerprint === null ? "not signed" : `signed with key ${fingerprint}`
        }, not with the key asked for`,
      );
    }
    const expired = Date.parse(record.validUntil) < Date.now();
    console.log(
      `${path}: in order, revision ${record.revision}, valid until ${
        record.validUntil.slice(0, 10)
      }${expired ? " (expired)" : ""}; ${
        signature === null
          ? "not signed"
          : `signed by '${signature.signedBy}', key ${fingerprint}`
      }`,
    );
  }
}

async function record(typed: readonly string[]): Promise<number> {
  const { values, rest } = readFlags(flags, typed, { task: "keep records" });
  const [command, ...paths] = rest;
  const one = () => {
    const [path] = paths;
    if (path !== undefined && paths.length === 1) return path;
    throw new UsageError(
      `Cannot ${command} as one record must be named: deno task record ${command} RECORD`,
    );
  };
  try {
    if (command === "key") await makeKey(values);
    else if (command === "sign") {
      const signature = await signCalibrationRecord(one(), keyPath(values));
      const { signedBy, publicKey } = signature;
      console.log(
        `Signed by '${signedBy}', key ${await fingerprintOfKey(publicKey)}`,
      );
      await writeCertificate(one(), values.output);
    } else if (command === "certificate") {
      await writeCertificate(one(), values.output);
    } else if (command === "verify") await verify(paths, values);
    else {
      throw new UsageError(
        `Cannot do '${
          command ?? ""
        }': a command is key, sign, verify or certificate`,
      );
    }
    return 0;
  } catch (error) {
    if (!(error instanceof RecordError)) throw error;
    console.error(error.message);
    return 1;
  }
}

if (import.meta.main) await runTask(task);
