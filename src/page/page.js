// Keeps the page live, moves the line that says now, and sends what the buttons say.
'use strict';
(() => {
  const yard = document.getElementById('yard');
  const link = document.getElementById('link');
  if (!yard) return;
  let skew = 0;

  const now = () => {
    const picture = document.querySelector('.timeline');
    const line = document.getElementById('now');
    if (!picture || !line) return;
    const from = Number(picture.dataset.begins), to = Number(picture.dataset.ends);
    const part = (Date.now() / 1000 + skew - from) / (to - from);
    const x = String(Math.max(0, Math.min(1, part)) * picture.viewBox.baseVal.width);
    line.setAttribute('x1', x);
    line.setAttribute('x2', x);
  };

  // What somebody is about to do must not be taken from under their finger.
  const put = (text) => {
    const held = document.activeElement && document.activeElement.closest('.act');
    const key = held && [held.dataset.zone, document.activeElement.dataset.do || 'time'];
    const times = new Map([...yard.querySelectorAll('.act')].map((it) => [it.dataset.zone, it.querySelector('select').value]));
    yard.innerHTML = text;
    for (const it of yard.querySelectorAll('.act')) {
      if (times.has(it.dataset.zone)) it.querySelector('select').value = times.get(it.dataset.zone);
      if (key && it.dataset.zone === key[0]) {
        (it.querySelector(`[data-do="${key[1]}"]`) || it.querySelector('select')).focus();
      }
    }
    now();
  };

  const listen = () => {
    const events = new EventSource('/events');
    events.onopen = () => { link.textContent = ''; };
    events.onmessage = (event) => {
      const news = JSON.parse(event.data);
      skew = news.at - Date.now() / 1000;
      document.title = news.title;
      put(news.yard);
    };
    events.onerror = () => {
      link.textContent = 'No word from the board; trying again.';
      if (events.readyState === EventSource.CLOSED) setTimeout(listen, 5000);
    };
  };

  const send = async (zone, what, time) => {
    const request = what === 'release'
      ? { do: 'release', zone }
      : { do: 'force', zone, lit: what === 'on', until: time === 'next' ? 'next' : { for: Number(time) } };
    try {
      const answer = await fetch('/do', {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify(request),
      });
      const said = await answer.json();
      if (said.done) {
        link.textContent = said.done.what + (said.done.kept ? '' : ' (a power cut would forget it)') + (said.done.note ? '; ' + said.done.note : '');
      } else if (said.refused) {
        link.textContent = said.refused.why + '; ' + said.refused.remedy;
      } else {
        link.textContent = 'The board did not understand.';
      }
    } catch {
      link.textContent = 'The board cannot be reached; nothing was done.';
    }
  };

  yard.addEventListener('click', async (event) => {
    const button = event.target.closest('button[data-do]');
    if (!button) return;
    const act = button.closest('.act');
    button.disabled = true;
    await send(act.dataset.zone, button.dataset.do, act.querySelector('select').value);
    button.disabled = false;
  });

  now();
  setInterval(now, 20000);
  listen();
})();
