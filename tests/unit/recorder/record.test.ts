// Recording in virtual time, on ports in memory.
import { recordingCases } from './recording-cases.ts';

recordingCases('virtual');
