/**
 * Reads steps aloud, if the tablet has a voice of its own: a voice that needs the network would send the words elsewhere and
 * fail with the network. Off until somebody switches it on.
 */
const switchKey = 'anteroom.tablet.read-aloud';

export class ReadAloud {
  #on = $state(localStorage.getItem(switchKey) === 'on');

  get on(): boolean {
    return this.#on && this.voice !== undefined;
  }

  get voice(): SpeechSynthesisVoice | undefined {
    if (!('speechSynthesis' in window)) return undefined;
    return speechSynthesis.getVoices().find((voice) => voice.localService && voice.lang.startsWith('en'));
  }

  switch(): void {
    this.#on = !this.#on;
    localStorage.setItem(switchKey, this.#on ? 'on' : 'off');
    if (!this.#on) this.hush();
  }

  say(words: string): void {
    const voice = this.voice;
    if (!this.#on || !voice) return;
    this.hush();
    const utterance = new SpeechSynthesisUtterance(words);
    utterance.voice = voice;
    speechSynthesis.speak(utterance);
  }

  hush(): void {
    if ('speechSynthesis' in window) speechSynthesis.cancel();
  }
}
