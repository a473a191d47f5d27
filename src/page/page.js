// Keeps the page live, moves the line that says now, and sends what the buttons say.
'use strict';
(() => {
  const yard = document.getElementById('yard');
  const link = document.getElementById('link');
  if (!yard) return;
  let skew = 0;
  let lost = null;
  let busy = false;

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

  const say = (text, for_s) => {
    link.textContent = text;
    if (for_s) setTimeout(() => { if (link.textContent === text) link.textContent = ''; }, for_s * 1000);
  };

  // Makes one tree like another and leaves alone what is alike already: what somebody is about to do, has
  // chosen or reads must not be taken from under their finger.
  const mark = (it) => it.id || (it.dataset && (it.dataset.zone || it.dataset.do)) || (it.getAttribute && it.getAttribute('aria-label')) || '';
  const same = (a, b) => a.nodeName === b.nodeName && mark(a) === mark(b);
  const become = (old, fresh) => {
    if (old.nodeType !== Node.ELEMENT_NODE) {
      if (old.data !== fresh.data) old.data = fresh.data;
      return;
    }
    for (const { name } of [...old.attributes]) if (!fresh.hasAttribute(name)) old.removeAttribute(name);
    for (const { name, value } of fresh.attributes) if (old.getAttribute(name) !== value) old.setAttribute(name, value);
    children(old, fresh);
  };
  const children = (old, fresh) => {
    let at = old.firstChild;
    for (const it of [...fresh.childNodes]) {
      let found = at;
      while (found && !same(found, it)) found = found.nextSibling;
      if (!found) {
        old.insertBefore(it, at);
        continue;
      }
      while (at !== found) {
        const gone = at;
        at = at.nextSibling;
        gone.remove();
      }
      at = at.nextSibling;
      become(found, it);
    }
    while (at) {
      const gone = at;
      at = at.nextSibling;
      gone.remove();
    }
  };

  const put = (text) => {
    const fresh = document.createElement('template');
    fresh.innerHTML = text;
    const held = document.activeElement && document.activeElement.closest('.act');
    children(yard, fresh.content);
    // The button that was pressed may be gone.
    if (held && !held.contains(document.activeElement)) (held.querySelector('select') || document.body).focus();
    now();
  };

  const listen = () => {
    const events = new EventSource('/events');
    events.onopen = () => {
      lost = null;
      say('');
    };
    events.onmessage = (event) => {
      const news = JSON.parse(event.data);
      skew = news.at - Date.now() / 1000;
      document.title = news.title;
      put(news.yard);
    };
    events.onerror = () => {
      lost = lost || new Date().toLocaleTimeString([], { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
      if (events.readyState === EventSource.CLOSED) {
        say('The board sends no news: too many are listening, or this page must be opened anew. Trying again.');
        setTimeout(listen, 5000);
      } else {
        say(`No word from the board since ${lost}: all this is as it was then. Trying again.`);
      }
    };
  };

  const send = async ({ all, zone }, what, time) => {
    const whose = all === undefined ? '' : '-all';
    const request = what === 'release'
      ? { do: 'release' + whose, zone }
      : { do: 'force' + whose, zone, lit: what === 'on', until: time === 'next' ? 'next' : { for: Number(time) } };
    say('Asking the board.');
    try {
      const answer = await fetch('/do', {
        method: 'POST',
        signal: AbortSignal.timeout(15000),
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify(request),
      });
      const said = await answer.json();
      if (said.done) {
        say(said.done.what + (said.done.kept ? '' : ' (a power cut would forget it)') + (said.done.note ? '; ' + said.done.note : ''), 20);
      } else if (said.refused) {
        say(said.refused.why + '; ' + said.refused.remedy);
      } else {
        say('The board did not understand.');
      }
    } catch {
      // It may have been heard, and its answer lost.
      say('No answer from the board. Whether it was done shows when there is word from it again.');
    }
  };

  yard.addEventListener('click', async (event) => {
    const button = event.target.closest('button[data-do]');
    if (!button || busy) return;
    const act = button.closest('.act');
    // Not `disabled`, which would take the focus away.
    busy = true;
    await send(act.dataset, button.dataset.do, act.querySelector('select').value);
    busy = false;
  });

  now();
  setInterval(now, 20000);
  listen();
})();
