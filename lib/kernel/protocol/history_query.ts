import type { HistoryEntry, HistoryStore } from "./history.ts";

/** What a history_request asks for. */
export interface HistoryQuery {
  /** The last entries, a range of cells, or those that match a pattern. */
  readonly access: "tail" | "range" | "search";
  /** Entries at most, `null` for no limit. */
  readonly count: number | null;
  /** Session of a range: 0 is the running one, negative counts back. */
  readonly session: number;
  /** First line of a range. */
  readonly start: number | null;
  /** Line after the last of a range. */
  readonly stop: number | null;
  /** Pattern of a search: `*` any text, `?` any character. */
  readonly pattern: string;
  /** Whether a text is given once, where it was run last. */
  readonly unique: boolean;
}

/** The pattern as a regular expression for the whole text. */
export function globToRegExp(pattern: string): RegExp {
  const source = pattern.replace(/[.+^${}()|[\]\\]/g, "\\$&")
    .replaceAll("*", "[^]*")
    .replaceAll("?", "[^]");
  return new RegExp(`^${source}$`, "u");
}

async function newestFirst(
  store: HistoryStore,
  take: (entry: HistoryEntry) => boolean,
  count: number,
): Promise<HistoryEntry[]> {
  const found: HistoryEntry[] = [];
  for (const session of (await store.sessions()).toReversed()) {
    for (const entry of (await store.session(session)).toReversed()) {
      if (found.length >= count) return found.reverse();
      if (take(entry)) found.push(entry);
    }
  }
  return found.reverse();
}

async function range(
  store: HistoryStore,
  query: HistoryQuery,
): Promise<HistoryEntry[]> {
  let number = query.session;
  if (number <= 0) {
    const sessions = await store.sessions();
    number = sessions[sessions.length - 1 + number] ?? 0;
  }
  const from = query.start ?? 0;
  const to = query.stop ?? Infinity;
  return (await store.session(number)).filter(({ line }) =>
    line >= from && line < to
  );
}

/**
 * Looks up the history.
 *
 * @param store Where the history is.
 * @param query What is asked for.
 * @returns The entries, oldest first.
 */
export function findHistory(
  store: HistoryStore,
  query: HistoryQuery,
): Promise<HistoryEntry[]> {
  const count = query.count ?? Infinity;
  if (query.access === "range") return range(store, query);
  if (query.access === "tail") return newestFirst(store, () => true, count);
  const pattern = globToRegExp(query.pattern);
  const seen = new Set<string>();
  return newestFirst(store, ({ input }) => {
    if (!pattern.test(input) || (query.unique && seen.has(input))) return false;
    seen.add(input);
    return true;
  }, count);
}
