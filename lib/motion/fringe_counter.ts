/** A jump of φF (C > 1): between which samples, which way. */
interface CountedJump {
  readonly first: number;
  readonly last: number;
  readonly sign: number;
}

/** Counts fringes block by block. */
export class FringeCounter {
  /** Place of each fringe, in samples; empty where places are not kept. */
  readonly places: number[] = [];
  /** Way of each fringe; empty where places are not kept. */
  readonly signs: number[] = [];
  /** Way passed both ways together, in rad. */
  path = 0;
  /** Fringes with a steep side of their own, receding. */
  receding = 0;
  /** Fringes with a steep side of their own, approaching. */
  approaching = 0;
  readonly #reference: number;
  readonly #folded: boolean;
  readonly #keeps: boolean;
  /** φ0 of the last sample, in rad; `NaN` before the first. */
  last = NaN;

  /**
   * @param p C cos ψ (1).
   * @param folded Whether φF jumps (C > 1).
   * @param keeps Whether the place of each fringe is kept.
   */
  constructor(p: number, folded: boolean, keeps = true) {
    this.#reference = Math.PI / 2 + p;
    this.#folded = folded;
    this.#keeps = keeps;
  }

  /** Goes on with the φ0 of the samples from index `first` on. */
  take(
    phase: Float64Array,
    first: number,
    jumps: readonly CountedJump[],
  ): void {
    const reference = this.#reference;
    const perTurn = 1 / (2 * Math.PI);
    let before = Number.isNaN(this.last) ? phase[0]! : this.last;
    let number = Math.floor((before - reference) * perTurn);
    let lower = 2 * Math.PI * number + reference;
    let upper = lower + 2 * Math.PI;
    let path = 0;
    for (let i = 0; i < phase.length; i++) {
      const value = phase[i]!;
      const change = value - before;
      path += change < 0 ? -change : change;
      if (value < lower || value >= upper) {
        const next = Math.floor((value - reference) * perTurn);
        if (next !== number && !this.#folded) {
          const level = 2 * Math.PI * Math.max(next, number) + reference;
          this.#count(
            first + i - 1 + (level - before) / change,
            next > number ? 1 : -1,
          );
        }
        number = next;
        lower = 2 * Math.PI * number + reference;
        upper = lower + 2 * Math.PI;
      }
      before = value;
    }
    this.path += path;
    this.last = before;
    for (const jump of this.#folded ? jumps : []) {
      this.#count((jump.first + jump.last) / 2, jump.sign);
    }
  }

  #count(place: number, sign: number): void {
    if (sign > 0) this.receding++;
    else this.approaching++;
    if (!this.#keeps) return;
    this.places.push(place);
    this.signs.push(sign);
  }
}
