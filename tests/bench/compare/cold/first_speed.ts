/** From a cold start to the speed in the capture that is named. */
import { measureSpeed, readCapture } from "fringebook";

const capture = await readCapture(Deno.args[0]!, {
  channels: { 0: "monitor signal" },
});
const { speed } = measureSpeed(capture, {
  wavelength: 650e-9,
  angle: 78 * Math.PI / 180,
});
if (!(speed.value > 0)) throw new Error("no result");
