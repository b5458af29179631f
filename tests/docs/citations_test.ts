import { describe, expect, it } from "vitest";
import { fromFileUrl, join } from "@std/path";

const root = fromFileUrl(new URL("../../", import.meta.url));

/**
 * Volume, page and year of papers that were looked up: in stored pages of
 * publishers and catalogues, or in how public code of others cites them.
 */
const lookedUp = new Set([
  "16, 347 (1980)", // Lang, Kobayashi, IEEE J. Quantum Electron.
  "7, 570 (2015)", // Taimre et al., Adv. Opt. Photon. (DOI 10.1364/AOP.7.000570)
  "53, 3723 (2014)", // Kliese et al., Appl. Opt.
  "25, 1439 (1986)", // Beheim, Fritsch, Appl. Opt.
  "21, 93 (1985)", // Beheim, Fritsch, Electron. Lett.
  "25, 1417 (1986)", // Shinohara et al., Appl. Opt.
  "56, 1894 (2007)", // Norgia et al., IEEE Trans. Instrum. Meas.
  "53, 4256 (2014)", // Gao et al., Appl. Opt. (DOI 10.1364/AO.53.004256)
  "17, 1584 (2011)", // Hangauer et al., IEEE J. Sel. Top. Quantum Electron.
  "20, 591 (1974)", // Rife, Boorstyn, IEEE Trans. Inf. Theory
  "13, 260 (1967)", // Viterbi, IEEE Trans. Inf. Theory
  "72, 367 (2004)", // York et al., Am. J. Phys.
  "35, 1566 (1996)", // Ciddor, Appl. Opt.
  "30, 155 (1993)", // Birch, Downs, Metrologia
  "31, 315 (1994)", // Birch, Downs, Metrologia
  "105, 271 (2013)", // ICNIRP, Health Phys.
  "40, 207 (1932)", // Birge, Phys. Rev.
  "6, 461 (1978)", // Schwarz, Ann. Statist.
  "12, 367 (1941)", // von Neumann, Ann. Math. Statist.
  "73, 13 (1986)", // Liang, Zeger, Biometrika
  "55, 819 (1987)", // Newey, Powell, Econometrica
  "66, 51 (1978)", // Harris, Proc. IEEE
  "15, 70 (1967)", // Welch, IEEE Trans. Audio Electroacoust.
  "630, 105 (1978)", // Moré, Lecture Notes in Mathematics
  "36, 1627 (1964)", // Savitzky, Golay, Anal. Chem.
  "8, 3 (1998)", // Matsumoto, Nishimura, ACM Trans. Model. Comput. Simul.
  "6, 260 (1964)", // Marsaglia, Bray, SIAM Rev.
  "44, 988 (1996)", // Gustafsson, IEEE Trans. Signal Process.
  "47, 2600 (1999)", // Marple, IEEE Trans. Signal Process.
  "18, 451 (1970)", // Bluestein, IEEE Trans. Audio Electroacoust.
  "4, 23 (1990)", // Bailey, J. Supercomput.
  "4, 321 (1961)", // Hoare, Commun. ACM
]);

/** Text files of a folder, without the marks of comments and line breaks. */
function* texts(folder: string): Generator<readonly [string, string]> {
  for (const { name, isDirectory } of Deno.readDirSync(join(root, folder))) {
    const path = `${folder}/${name}`;
    if (isDirectory) yield* texts(path);
    else if (/\.(?:md|ts|ipynb)$/.test(name)) {
      const text = Deno.readTextFileSync(join(root, path))
        .replace(/\n\s*(?:\*|\/\/) ?/g, " ").replace(/\s+/g, " ");
      yield [path, text];
    }
  }
}

/** Citations with volume, page and year, and whether they say "from memory". */
function citations(text: string) {
  const behind = text.matchAll(
    /(\d+)(?:\(\d+\))?, (\d+) \(((?:18|19|20)\d\d)(, from memory)?\)/g,
  );
  const before = text.matchAll(
    /\(?((?:18|19|20)\d\d),? (?:[A-Z][\w.]*\.? ?(?:of |in |on )?){1,6}(\d+), (\d+)(?! ?\((?:18|19|20)\d\d)(,? \(?from memory)?/g,
  );
  return [
    ...[...behind].map(([, volume, page, year, memory]) => ({
      what: `${volume}, ${page} (${year})`,
      fromMemory: memory !== undefined,
    })),
    ...[...before].map(([, year, volume, page, memory]) => ({
      what: `${volume}, ${page} (${year})`,
      fromMemory: memory !== undefined,
    })),
  ];
}

describe("citations", () => {
  const found = ["notebooks", "lib"].flatMap((folder) =>
    [...texts(folder)].flatMap(([path, text]) =>
      citations(text).map((each) => ({ path, ...each }))
    )
  );

  it("of papers were looked up, or say 'from memory' at their place", () => {
    expect(found.length).toBeGreaterThan(50);
    const bare = found.filter(({ what, fromMemory }) =>
      !fromMemory && !lookedUp.has(what)
    );
    expect(bare.map(({ path, what }) => `${path}: ${what}`)).toEqual([]);
  });
  it("say 'from memory' of none that was looked up", () => {
    const shy = found.filter(({ what, fromMemory }) =>
      fromMemory && lookedUp.has(what)
    );
    expect(shy.map(({ path, what }) => `${path}: ${what}`)).toEqual([]);
  });
});
