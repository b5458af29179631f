/** Default of `maximumSize`: 2 GiB. */
export const defaultMaximumSize: number = 2 ** 31;

/**
 * Times as many bytes that compression makes of one at most: text and samples
 * of recorders reach 3 to 30 (common practice, no source); deflate can reach 1032
 * (RFC 1951), where it packs nothing but one byte.
 */
export const densest = 100;

/** The same for what is large: a small file is not to fill the memory. */
export const densestLarge = 30;
/** Bytes from which on unpacked data are large. */
export const large: number = 1.5e8;

/** Bytes of which nobody asks how dense they were packed. */
export const allowedExcess: number = 2 ** 25;

/** Bytes that so many packed ones may become, where the caller says nothing. */
export function mostUnpacked(packed: number): number {
  return Math.max(
    allowedExcess,
    Math.min(densest * packed, large),
    densestLarge * packed,
  );
}
