// A small CSV that is a night of its own on each day, for tests that put captures into a folder.

/** A minute, half of it awake, on that day of January 2030. */
export const minute = (day: number): string =>
  [
    'time,current_mA',
    ...Array.from(
      { length: 61 },
      (_, s) => `${new Date(Date.UTC(2030, 0, day, 6, 0, s)).toISOString()},${s < 30 ? 400 : 20}`,
    ),
  ].join('\n');
