// What a capture may be called, and how numbers stand in a question's address.

import { z } from 'zod';

/** A file name inside the captures folder: no path, no hidden file. */
export const captureName = z
  .string()
  .min(1)
  .max(255)
  .refine((name) => !/[/\\\0]/.test(name) && !name.startsWith('.'), 'is not a plain file name');

/** A number in an address. */
export const decimal = z
  .string()
  .regex(/^-?\d{1,12}(\.\d{1,12})?(e-?\d{1,2})?$/i, 'is not a number')
  .transform(Number);

/** Text that somebody typed: any script, no control characters but tab and line end. */
export const typedText = (most: number) =>
  z
    .string()
    .trim()
    .max(most, `is longer than ${most} characters`)
    .refine((text) => !/[\0-\x08\x0b-\x1f\x7f]/.test(text), 'holds control characters');
