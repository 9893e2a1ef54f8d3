// Interruptions of a recording in virtual time, on ports in memory.
import { interruptionCases } from './interruption-cases.ts';

interruptionCases('virtual');
