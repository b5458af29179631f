/** From a cold start to the displacement in the capture that is named. */
import { measureDisplacement, readCapture } from "fringebook";

const capture = await readCapture(Deno.args[0]!, {
  channels: { 0: "monitor signal" },
});
const { displacement } = measureDisplacement(capture, { wavelength: 650e-9 });
if (displacement.length !== capture.sampleCount) throw new Error("no result");
