/** Speed of light in vacuum, in m/s (exact, SI). */
export const speedOfLight = 299792458;
