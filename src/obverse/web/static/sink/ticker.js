// A timer that browsers do not slow down as they do those of a page: it wakes the page at the moments asked for.
let timer = null;
onmessage = ({ data }) => {
  clearTimeout(timer);
  timer = setTimeout(() => postMessage(null), Math.max(0, data));
};
