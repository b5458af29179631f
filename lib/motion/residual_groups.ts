/** Samples put together where what a model leaves is compared with the noise. */
const usualGroups = 16384;
const mostSamplesPerGroup = 8;
/** Residuals kept for figures. */
const shown = 8192;

/**
 * What a model leaves of the signal, put together from neighbouring samples by how
 * much each says of the motion.
 */
export class ResidualGroups {
  readonly #noise: number;
  readonly #perGroup: number;
  readonly #perShown: number;
  readonly #sums: Float64Array;
  readonly #weights: Float64Array;
  #group = -1;
  #gr = 0;
  #gg = 0;
  #count = 0;
  #squares = 0;
  #all = { gg: 0, gx: 0, gxx: 0 };
  #origin = NaN;

  /**
   * @param sampleCount Samples of the record.
   * @param noise Standard deviation of their noise (1).
   */
  constructor(sampleCount: number, noise: number) {
    this.#noise = noise;
    this.#perGroup = Math.min(
      mostSamplesPerGroup,
      Math.max(1, Math.ceil(sampleCount / usualGroups)),
    );
    this.#perShown = Math.max(1, Math.ceil(sampleCount / shown));
    const count = Math.ceil(sampleCount / this.#perShown);
    this.#sums = new Float64Array(count);
    this.#weights = new Float64Array(count);
  }

  /** Takes sample i: slope, weight, residual, φ0 in rad. */
  take(i: number, g: number, w: number, rest: number, phase: number): void {
    const group = Math.floor(i / this.#perGroup);
    if (group !== this.#group) {
      this.#endGroup();
      this.#group = group;
    }
    const wg = w * g;
    this.#gr += wg * rest;
    this.#gg += wg * g;
    const at = Math.floor(i / this.#perShown);
    this.#sums[at]! += wg * rest;
    this.#weights[at]! += wg * g;
    if (this.#origin !== this.#origin) this.#origin = phase;
    const x = phase - this.#origin;
    this.#all.gg += wg * g;
    this.#all.gx += wg * g * x;
    this.#all.gxx += wg * g * x * x;
  }

  #endGroup(): void {
    if (this.#gg > 1e-9) {
      this.#squares += this.#gr * this.#gr / this.#gg;
      this.#count++;
    }
    this.#gr = 0;
    this.#gg = 0;
  }

  /** Groups that say something of the motion. */
  count(): number {
    this.#endGroup();
    return this.#count;
  }

  /** Root mean square over the noise (1). */
  excess(): number {
    this.#endGroup();
    return Math.sqrt(this.#squares / Math.max(1, this.#count)) / this.#noise;
  }

  /** Root of the squares left over those of the motion about its mean (1). */
  unexplained(): number {
    this.#endGroup();
    const { gg, gx, gxx } = this.#all;
    return Math.sqrt(
      this.#squares / Math.max(gxx - gx * gx / gg, Number.MIN_VALUE),
    );
  }

  /** Times of the residuals, in s. */
  times(samplingRate: number): Float64Array {
    return Float64Array.from(
      this.#kept(),
      (k) => (k + 0.5) * this.#perShown / samplingRate,
    );
  }

  /** Residuals, in m. */
  residuals(metresPerRadian: number): Float64Array {
    return Float64Array.from(
      this.#kept(),
      (k) => this.#sums[k]! / this.#weights[k]! * metresPerRadian,
    );
  }

  #kept(): number[] {
    return Array.from(this.#weights.keys()).filter((k) =>
      this.#weights[k]! > 1e-9
    );
  }
}
