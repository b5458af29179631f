import type { FindRampsOptions } from "../range/mod.ts";
import type { MeasureCaptureOptions } from "./measure_capture.ts";

/** What light and air are, as far as it was given. */
export function lightOptions(
  { wavelength, wavelengthStandardUncertainty, refractiveIndex }:
    MeasureCaptureOptions,
): Pick<
  MeasureCaptureOptions,
  "wavelength" | "wavelengthStandardUncertainty" | "refractiveIndex"
> {
  return {
    wavelength,
    ...(wavelengthStandardUncertainty === undefined
      ? {}
      : { wavelengthStandardUncertainty }),
    ...airOptions({ refractiveIndex }),
  };
}

/** The index of the air, as far as it was given. */
export function airOptions(
  { refractiveIndex }: { refractiveIndex?: number | string | undefined },
): { refractiveIndex?: number | string } {
  return refractiveIndex === undefined ? {} : { refractiveIndex };
}

/** The angle of the beam, as far as it was given. */
export function angleOptions(
  { angle = null, angleStandardUncertainty }: MeasureCaptureOptions,
): {
  angle?: number | string;
  angleStandardUncertainty?: number | string;
} {
  return {
    ...(angle === null ? {} : { angle }),
    ...(angleStandardUncertainty === undefined
      ? {}
      : { angleStandardUncertainty }),
  };
}

/** How the drive becomes a current, as far as it was given. */
export function driveOptions(
  { currentPerVoltage = null, currentOffset, drive = null }:
    MeasureCaptureOptions,
): Pick<FindRampsOptions, "currentPerVoltage" | "currentOffset" | "drive"> {
  return {
    ...(currentPerVoltage === null ? {} : { currentPerVoltage }),
    ...(currentOffset === undefined ? {} : { currentOffset }),
    ...(drive === null ? {} : { drive }),
  };
}
