/**
 * Standard uncertainty of a whole-number count between two ends that stand
 * anywhere within a fringe (1): each end hides a part between 0 and 1, the two
 * together are triangular with the half-width 1, and a triangle has 1/√6 of it
 * (JCGM 100:2008, 4.3.9).
 */
export const wholeCountUncertainty: number = 1 / Math.sqrt(6);
