// The colours, by what they stand for. Indigo against orange stays apart for every
// kind of colour vision; a test computes contrast and simulated colour blindness.

export interface Palette {
  /** Page, and the sheet that the night is drawn on. */
  paper: string;
  sheet: string;
  /** Every other hour. */
  hour: string;
  ink: string;
  softInk: string;
  hairline: string;
  /** Under the mean, the band from lowest to highest, the mean, the levels. */
  ground: string;
  band: string;
  mean: string;
  level: string;
  /** Wake-ups: the mark, and the wash behind the picture. */
  wake: string;
  wakeBand: string;
  wakeWash: string;
  /** Charge drawn by a wake-up. */
  wakeFill: string;
  asleep: string;
  allowance: string;
  gap: string;
  /** The charge bill. */
  billGoing: string;
  billAsleep: string;
  billWake: string;
}

export const LIGHT: Palette = {
  paper: '#f4f1e9',
  sheet: '#fdfbf6',
  hour: '#f5f1e7',
  ink: '#1b2233',
  softInk: '#555c6e',
  hairline: '#d5cebf',
  ground: '#d3daec',
  band: '#a5b5dd',
  mean: '#3b55a8',
  level: '#17296d',
  wake: '#a8430a',
  wakeBand: '#e08a45',
  wakeWash: '#fae8d6',
  wakeFill: '#f3c79b',
  asleep: '#0b6a63',
  allowance: '#1b2233',
  gap: '#7d7868',
  billGoing: '#a5b5dd',
  billAsleep: '#2c4391',
  billWake: '#d9792f',
};

export const DARK: Palette = {
  paper: '#10141c',
  sheet: '#171c27',
  hour: '#1c222f',
  ink: '#f0ece1',
  softInk: '#aeb4c3',
  hairline: '#353d4f',
  ground: '#27345c',
  band: '#44588f',
  mean: '#93a9ee',
  level: '#d4ddff',
  wake: '#ffb673',
  wakeBand: '#c87a38',
  wakeWash: '#2b2521',
  wakeFill: '#6b4a2b',
  asleep: '#6fd1c6',
  allowance: '#f0ece1',
  gap: '#8b92a3',
  billGoing: '#8499d8',
  billAsleep: '#4a63b8',
  billWake: '#f0a259',
};
