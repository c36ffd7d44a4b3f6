/** The page of one version of a procedure, as the code on a printed card leads to it. Anybody may look at it. */
export const cardPath = (id: string, version: number): string => `/procedure/${id}/${version}`;

export function cardOfPath(path: string): { id: string; version: number } | undefined {
  const [, id, version] = /^\/procedure\/([A-Za-z0-9._:-]{1,64})\/(\d{1,9})\/?$/.exec(path) ?? [];
  return id === undefined ? undefined : { id, version: Number(version) };
}
