/**
 * `deno task record`: the key of a laboratory, signatures and certificates of
 * calibration records, and their verification.
 *
 * Exit codes: 0 done, 1 a record is not in order, 2 wrong arguments.
 *
 * @module
 */
import { join } from "@std/path";
import { parseArgs } from "@std/cli/parse-args";
import { writeWhole } from "../notebook/mod.ts";
import {
  calibrationCertificate,
  createSigningKey,
  keyFingerprint,
  latestCalibrationRecord,
  loadCalibrationRecord,
  loadRecordSignature,
  signCalibrationRecord,
} from "../record/mod.ts";
import { stateFolder } from "../runtime/mod.ts";

const usage = `deno task record COMMAND [options]

  key --owner NAME          make the signing key of the laboratory, once; prints
                            its fingerprint, which goes to those who verify
  sign RECORD               sign a record; the signature lies beside it, and the
                            certificate beside that is written anew
  verify RECORD|FOLDER …    content, chain of revisions and signature; of a
                            folder, all records in it
  certificate RECORD        write the certificate as a page to print

  --key FILE                the key (a file of your own folder for programs'
                            data, which no notebook can read)
  --signed-by FINGERPRINT   verify: every record must be signed with this key
  --output FILE             certificate: where to (beside the record)

Exit codes: 0 done, 1 a record is not in order, 2 wrong arguments.`;

interface Flags {
  owner?: string;
  key?: string;
  "signed-by"?: string;
  output?: string;
}

/** Wrong arguments. */
class UsageError extends Error {}

function keyPath(flags: Flags): string {
  const folder = stateFolder();
  if (flags.key) return flags.key;
  if (folder === null) {
    throw new UsageError("Cannot find your home folder: give --key FILE");
  }
  return join(folder, "lab.key");
}

async function makeKey(flags: Flags): Promise<void> {
  if (!flags.owner) {
    throw new UsageError(
      "Cannot make a key as it is not said whose it is: give --owner NAME",
    );
  }
  const path = keyPath(flags);
  const publicKey = await createSigningKey(path, flags.owner);
  console.log(`Key:         ${path} (only you can read it; keep a copy safe)`);
  console.log(`Owner:       ${flags.owner}`);
  console.log(`Fingerprint: ${await keyFingerprint(publicKey)}`);
}

async function writeCertificate(
  record: string,
  output: string | undefined,
): Promise<void> {
  const content = await loadCalibrationRecord(record);
  const signature = await loadRecordSignature(record, content);
  const fingerprint = signature === null
    ? null
    : await keyFingerprint(signature.publicKey);
  const path = output ?? record.replace(/\.json$/, "") + ".certificate.html";
  await writeWhole(
    path,
    calibrationCertificate(content, { signature, fingerprint }),
  );
  console.log(`Certificate: ${path}`);
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
    await latestCalibrationRecord(path);
  }
  return [...found];
}

async function verify(paths: readonly string[], flags: Flags): Promise<void> {
  const wanted = flags["signed-by"]?.replace(/\s+/g, "").toLowerCase();
  for (const path of await recordsOf(paths)) {
    const record = await loadCalibrationRecord(path);
    const signature = await loadRecordSignature(path, record);
    const fingerprint = signature === null
      ? null
      : await keyFingerprint(signature.publicKey);
    if (
      wanted !== undefined && fingerprint?.replaceAll(" ", "") !== wanted
    ) {
      throw new Error(
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

async function main(given: readonly string[]): Promise<number> {
  const { _: words, help, ...flags } = parseArgs([...given], {
    string: ["_", "owner", "key", "signed-by", "output"],
    boolean: ["help"],
    unknown: (name: string) => {
      if (!name.startsWith("-")) return true;
      throw new UsageError(`There is no option '${name}'`);
    },
  });
  const [command, ...paths] = words.map(String);
  if (help || command === undefined) {
    console.error(usage);
    return help ? 0 : 2;
  }
  const one = () => {
    const [path] = paths;
    if (path !== undefined && paths.length === 1) return path;
    throw new UsageError(`Name one record: deno task record ${command} RECORD`);
  };
  if (command === "key") await makeKey(flags);
  else if (command === "sign") {
    const signature = await signCalibrationRecord(one(), keyPath(flags));
    console.log(
      `Signed by '${signature.signedBy}', key ${await keyFingerprint(
        signature.publicKey,
      )}`,
    );
    await writeCertificate(one(), flags.output);
  } else if (command === "certificate") {
    await writeCertificate(one(), flags.output);
  } else if (command === "verify" && paths.length > 0) {
    await verify(paths, flags);
  } else {
    throw new UsageError(
      command === "verify"
        ? "Name the records to verify, or their folder"
        : `There is no command '${command}'`,
    );
  }
  return 0;
}

if (import.meta.main) {
  try {
    Deno.exitCode = await main(Deno.args);
  } catch (error) {
    console.error(error instanceof Error ? error.message : String(error));
    Deno.exitCode = error instanceof UsageError ? 2 : 1;
    if (error instanceof UsageError) {
      console.error("See 'deno task record --help'");
    }
  }
}
