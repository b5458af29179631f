/** Default of `maximumSize`: 2 GiB. */
export const defaultMaximumSize: number = 2 ** 31;

/**
 * Times as many bytes that compression makes of one at most: text and samples
 * of recorders reach 3 to 30 (common practice, no source); deflate can reach 1032
 * (RFC 1951), where it packs nothing but one byte.
 */
export const densest = 100;

/** Bytes of which nobody asks how dense they were packed. */
export const allowedExcess: number = 2 ** 25;

/** Bytes that so many packed ones may become, where the caller says nothing. */
export function mostUnpacked(packed: number): number {
  return Math.max(allowedExcess, densest * packed);
}
