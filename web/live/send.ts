// Changes that the live view asks the server for. A refusal becomes an error that
// carries the server's sentence.

import type {
  BayAction,
  BayView,
  BoardList,
  FeedTreeAnswer,
  NightInfo,
  Problem,
  ProofAnswer,
  ProofNow,
  ProofOrder,
  Recording,
  RecordingList,
  RecordOrder,
  TreeAnswer,
} from '../../host/contract/api.ts';
import { AskError } from '../ask.ts';

async function send<T>(method: 'GET' | 'POST' | 'DELETE', path: string, body?: object): Promise<T> {
  let response: Response;
  try {
    response = await fetch(
      `api/${path}`,
      body === undefined
        ? { method }
        : { method, headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) },
    );
  } catch {
    throw new AskError(null, 'The computer does not answer, so this was not done. Is nightdraw still running there?');
  }
  if (response.ok) return (await response.json()) as T;
  const problem = (await response.json().catch(() => null)) as Problem | null;
  const { message, complaints } = problem?.error ?? {
    message: `The server answered with status ${response.status}.`,
  };
  throw new AskError(response.status, message, complaints);
}

const part = encodeURIComponent;

export const askProof = () => send<ProofNow>('GET', 'proof');
export const beginProof = (order: ProofOrder) => send<ProofNow>('POST', 'proof', order);
export const answerProof = (answer: ProofAnswer) => send<ProofNow>('POST', 'proof/answer', answer);
export const leaveProof = () => send<ProofNow>('POST', 'proof/leave', {});

export const askBoards = () => send<BoardList>('GET', 'boards');
export const searchBoards = () => send<BoardList>('POST', 'boards/search', {});
export const askRecordings = () => send<RecordingList>('GET', 'recordings');
export const beginRecording = (order: RecordOrder) => send<Recording>('POST', 'recordings', order);
export const stopRecording = (name: string) => send<Recording>('POST', `recordings/${part(name)}/stop`, {});
export const leaveRecording = (name: string) => send<Recording>('POST', `recordings/${part(name)}/leave`, {});
export const actInBay = (name: string, action: BayAction) =>
  send<BayView>('POST', `recordings/${part(name)}/bay`, action);
export const askFeedTree = (name: string) => send<FeedTreeAnswer>('GET', `recordings/${part(name)}/bay/tree`);
export const lookOver = (tree: string) => send<TreeAnswer>('POST', 'bay/tree', { tree });
export const askMarks = async (name: string) => (await send<NightInfo>('GET', `captures/${part(name)}`)).marks;
export const setMark = (name: string, t_s: number, text: string) =>
  send<unknown>('POST', `captures/${part(name)}/marks`, { t_s, text });
export const removeMark = (name: string, t_s: number, text: string) =>
  send<unknown>('DELETE', `captures/${part(name)}/marks`, { t_s, text });
