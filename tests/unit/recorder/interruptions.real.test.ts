// Interruptions of a recording in real time, through the serial port package and a pseudo-terminal.
import { interruptionCases } from './interruption-cases.ts';

interruptionCases('real');
