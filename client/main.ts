import '@fontsource-variable/atkinson-hyperlegible-next';
import '@fontsource/b612/400.css';
import '@fontsource/b612/700.css';
import './ui/tokens.css';
import './ui/base.css';
import { mount } from 'svelte';
import App from './App.svelte';

const target = document.getElementById('app');
if (!target) throw new Error('index.html has no #app');
mount(App, { target });
