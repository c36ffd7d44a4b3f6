/**
 * Closed forms of queues in their steady state: customers come at random (Poisson), each is served by one of some equal servers,
 * first come first served. `load` is the arrival rate over the service rate of one server, in erlang; with `servers` or more of
 * it there is no steady state and these functions are not defined.
 *
 * Sources: Erlang 1917; the recursion and the forms used here are in any textbook on queues, e.g. Hillier and Lieberman,
 * "Introduction to Operations Research" (from memory; tests compare with published figures).
 */

/** The chance that all servers are busy when nobody may wait: B(0) = 1, B(k) = a·B/(k + a·B). */
export function erlangB(load: number, servers: number): number {
  let blocked = 1;
  for (let server = 1; server <= servers; server += 1) blocked = (load * blocked) / (server + load * blocked);
  return blocked;
}

/** The chance of having to wait: C = B/(1 − ρ(1 − B)), service times exponential. */
export function erlangC(load: number, servers: number): number {
  const blocked = erlangB(load, servers);
  return blocked / (1 - (load / servers) * (1 - blocked));
}

export const isStable = (load: number, servers: number): boolean => load < servers;

/** The mean wait of all customers, in mean service times: C/(c − a). */
export const meanWaitInServices = (load: number, servers: number): number => erlangC(load, servers) / (servers - load);

/** The share of customers who wait at most `services` mean service times: 1 − C·exp(−(c − a)·t). */
export const servedWithin = (load: number, servers: number, services: number): number =>
  1 - erlangC(load, servers) * Math.exp(-(servers - load) * services);

/**
 * One server, any service time (Pollaczek 1930, Khinchine 1932): mean wait in mean service times = ρ(1 + v²)/(2(1 − ρ)), with v
 * the coefficient of variation of the service time. A customer waits with chance ρ.
 */
export const pollaczekKhinchine = (load: number, serviceVariation: number): number =>
  (load * (1 + serviceVariation ** 2)) / (2 * (1 - load));

/** An approximation for several servers and any times (Allen and Cunneen, from memory): Wq ≈ (va² + vs²)/2 × that of M/M/c. */
export const allenCunneen = (load: number, servers: number, arrivalVariation: number, serviceVariation: number) =>
  ((arrivalVariation ** 2 + serviceVariation ** 2) / 2) * meanWaitInServices(load, servers);
