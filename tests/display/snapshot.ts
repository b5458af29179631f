const folder = new URL("./fixtures/figures/", import.meta.url);

/**
 * Compares a figure specification with its stored one: numbers rounded to three
 * digits, long lists by length and every n-th entry, without the theme. A
 * changed one is left beside it as `-changed.json`; run the tests with
 * `-- --update` after looking at it.
 *
 * @param name Name of the snapshot.
 * @param value A JSON value.
 */
export async function matchSnapshot(
  name: string,
  value: unknown,
): Promise<void> {
  const file = name.replace(/[^a-z0-9]+/gi, "_");
  const path = new URL(`${file}.json`, folder);
  const changed = new URL(`${file}-changed.json`, folder);
  const plain = JSON.parse(JSON.stringify(value));
  const text = JSON.stringify(shorten(plain), null, 1) + "\n";
  if (Deno.args.includes("--update")) {
    await Deno.mkdir(folder, { recursive: true });
    await Deno.writeTextFile(path, text);
    return;
  }
  const before = await Deno.readTextFile(path);
  if (before === text) return;
  await Deno.writeTextFile(changed, text);
  throw new Error(
    `Figure '${name}' differs from its snapshot: compare ${changed.pathname} with ${path.pathname}`,
  );
}

function shorten(value: unknown): unknown {
  if (typeof value === "number") {
    return Number(value.toPrecision(3));
  }
  if (Array.isArray(value)) {
    if (value.length <= 12) return value.map(shorten);
    const step = Math.floor(value.length / 5);
    return [
      `${value.length} entries`,
      ...value.filter((_, k) => k % step === 0).map(shorten),
    ];
  }
  if (typeof value === "object" && value !== null) {
    return Object.fromEntries(
      Object.entries(value).filter(([key]) => key !== "template")
        .map(([key, item]) => [key, shorten(item)]),
    );
  }
  return value;
}
