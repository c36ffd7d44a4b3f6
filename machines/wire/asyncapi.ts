import { z } from 'zod';
import { procedure } from '../procedure/procedure.ts';
import { fact, factKinds, type FactKind } from './fact.ts';
import {
  adoptionBytesMax,
  beat,
  beatAnswer,
  catchUp,
  factsMessage,
  farewell,
  hello,
  helloAnswer,
  messageBytesMax,
  missing,
  pulse,
  refusal,
  reportAnswer,
  reportsPerSecondMax,
  type ToDevice,
  type ToServer,
} from './messages.ts';
import { reportKinds, reportSchemas, wireVersion, type ReportKind } from './report.ts';
import { rights } from './rights.ts';

/**
 * The conversation between devices and server as an AsyncAPI 3 document, made from the very schemas that check it. An event
 * of the socket is a channel; its answer (acknowledgement) is the operation's reply.
 */
interface Exchange {
  summary: string;
  /** What the device sends; a report has one schema per kind. */
  messages: Readonly<Record<string, z.ZodType>>;
  answer: z.ZodType;
}

const reportName = (kind: ReportKind): string => `report.${kind}`;
export const factName = (kind: FactKind): string => `fact.${kind}`;

export const exchanges: Readonly<Record<keyof ToServer, Exchange>> = {
  hello: {
    summary: 'Says who this device is, and up to which number it has folded.',
    messages: { hello },
    answer: helloAnswer,
  },
  report: {
    summary: 'Claims that something happened, or orders that something shall.',
    messages: Object.fromEntries(reportKinds.map((kind) => [reportName(kind), reportSchemas[kind]])),
    answer: reportAnswer,
  },
  beat: { summary: 'Sign of life, and a probe of the clock.', messages: { beat }, answer: beatAnswer },
  'catch-up': { summary: 'Asks for what is missing after a gap.', messages: { 'catch-up': catchUp }, answer: missing },
  leave: {
    summary: 'Signs the device off; without it, going away is silence.',
    messages: { leave: z.strictObject({}) },
    answer: z.strictObject({ left: z.literal(true) }),
  },
};

export const announcements: Readonly<Record<keyof ToDevice, { summary: string; message: z.ZodType }>> = {
  facts: {
    summary:
      'Facts, in order, once they are durable. A gap in the numbers: catch up. Confidential parts only to the safety officer.',
    message: factsMessage,
  },
  pulse: { summary: 'Every second. A device that misses it for five seconds says so.', message: pulse },
  farewell: { summary: 'Why the server closes this connection on purpose.', message: farewell },
};

const kindsOfFact = (fact as unknown as { options: readonly z.ZodType[] }).options;

/** Every schema of the wire by its name, for the document and for whatever checks it. */
export const wireSchemas: Readonly<Record<string, z.ZodType>> = {
  refusal,
  procedure,
  fact,
  ...Object.fromEntries(factKinds.map((kind, index) => [factName(kind), kindsOfFact[index] as z.ZodType])),
  ...Object.fromEntries(Object.values(exchanges).flatMap(({ messages }) => Object.entries(messages))),
  ...Object.fromEntries(Object.entries(exchanges).map(([event, { answer }]) => [`${event}.answer`, answer])),
  ...Object.fromEntries(Object.entries(announcements).map(([event, { message }]) => [event, message])),
};

const ref = (path: string) => ({ $ref: `#/${path}` });

function jsonSchemas(): Record<string, object> {
  const registry = z.registry<{ id: string }>();
  // A schema that goes by two names (a catch-up is answered with what a welcome brings) is written out under the first.
  for (const [id, schema] of Object.entries(wireSchemas)) if (!registry.has(schema)) registry.add(schema, { id });
  const uri = (id: string) => `#/components/schemas/${id}`;
  const { schemas } = z.toJSONSchema(registry, { target: 'draft-7', io: 'input', uri });
  const named = Object.fromEntries(Object.entries(schemas).map(([id, schema]) => [id, withoutAddress(schema)]));
  const others = Object.entries(wireSchemas).filter(([id]) => !(id in named));
  return {
    ...named,
    ...Object.fromEntries(others.map(([id, schema]) => [id, ref(`components/schemas/${registry.get(schema)?.id}`)])),
  };
}

/** Inside the document a schema is found by its place, not by an address of its own. */
function withoutAddress({ $id: _id, $schema: _schema, ...schema }: { $id?: string; $schema?: string }): object {
  return schema;
}

const title = (text: string) => text.replaceAll('.', ' ').replaceAll('-', ' ');

function messageOf(name: string, more: object = {}) {
  return {
    name,
    title: title(name),
    contentType: 'application/json',
    payload: ref(`components/schemas/${name}`),
    ...more,
  };
}

const sentBy = (name: string): object => {
  const kind = reportKinds.find((one) => reportName(one) === name);
  return kind ? { 'x-sent-by': rights[kind] } : {};
};

const exchangeEntries = Object.entries(exchanges);
const announcementEntries = Object.entries(announcements);

function channels() {
  const asked = exchangeEntries.map(([event, { messages }]) => {
    const names = [...Object.keys(messages), `${event}.answer`, 'refusal'];
    return [event, channelOf(event, names)];
  });
  const told = announcementEntries.map(([event]) => [event, channelOf(event, [event])]);
  return Object.fromEntries([...asked, ...told]) as Record<string, object>;
}

const channelOf = (address: string, names: readonly string[]) => ({
  address,
  messages: Object.fromEntries(names.map((name) => [name, ref(`components/messages/${name}`)])),
});

function operations() {
  const asked = exchangeEntries.map(([event, { summary, messages }]) => [
    `take-${event}`,
    {
      action: 'receive',
      summary,
      channel: ref(`channels/${event}`),
      messages: Object.keys(messages).map((name) => ref(`channels/${event}/messages/${name}`)),
      reply: {
        channel: ref(`channels/${event}`),
        messages: [`${event}.answer`, 'refusal'].map((name) => ref(`channels/${event}/messages/${name}`)),
      },
    },
  ]);
  const told = announcementEntries.map(([event, { summary }]) => [
    `send-${event}`,
    {
      action: 'send',
      summary,
      channel: ref(`channels/${event}`),
      messages: [ref(`channels/${event}/messages/${event}`)],
    },
  ]);
  return Object.fromEntries([...asked, ...told]) as Record<string, object>;
}

function messages() {
  const sent = exchangeEntries.flatMap(([, { messages }]) => Object.keys(messages));
  const answers = exchangeEntries.map(([event]) => `${event}.answer`);
  const told = announcementEntries.map(([event]) => event);
  return Object.fromEntries([
    ...sent.map((name) => [name, messageOf(name, sentBy(name))]),
    ...[...answers, 'refusal', ...told].map((name) => [name, messageOf(name)]),
  ]) as Record<string, object>;
}

export const asyncApi = {
  asyncapi: '3.0.0',
  info: {
    title: 'Anteroom, between devices and server',
    version: `${wireVersion}.0.0`,
    description: [
      'Over one socket.io 4 connection (websocket only). Each channel is an event; each event a device sends is answered through its acknowledgement.',
      'A message that is not understood, or not allowed, is answered with a code that keeps its meaning and a sentence to act on; the connection lives on.',
      `Messages over ${messageBytesMax} bytes (${adoptionBytesMax} for adopt-procedure) and more than ${reportsPerSecondMax} reports a second are turned away.`,
      'x-sent-by lists the roles that may send a report; x-rights is the whole table. In this version a device is who it says it is.',
    ].join(' '),
    license: { name: 'MIT' },
  },
  defaultContentType: 'application/json',
  channels: channels(),
  operations: operations(),
  components: { messages: messages(), schemas: jsonSchemas() },
  'x-rights': rights,
};
