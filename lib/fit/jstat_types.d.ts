/** The part of jstat that is used here; the package ships no types. */
interface Distribution2 {
  cdf(x: number, a: number, b: number): number;
  inv(p: number, a: number, b: number): number;
}
interface Distribution1 {
  cdf(x: number, a: number): number;
  inv(p: number, a: number): number;
}
declare const jstat: {
  normal: Distribution2;
  centralF: Distribution2;
  studentt: Distribution1;
  chisquare: Distribution1;
};
export default jstat;
