// A page that watches: it asks for what is new, over and over, and keeps the last good picture where there is trouble.

async function follow(version) {
  let known = version;
  for (;;) {
    try {
      const answer = await fetch(`news?after=${known}`, { cache: "no-store" });
      if (!answer.ok) throw new Error(`the watcher answered ${answer.status}`);
      const news = await answer.json();
      if (news.version !== known) {
        known = news.version;
        if (news.facts) await freshen(news.facts);
        trouble(news.trouble);
      }
    } catch (error) {
      trouble(`No word from vdpsim watch: ${error.message}. Is it still running?`);
      await new Promise((done) => setTimeout(done, 1000));
    }
  }
}

async function freshen(facts) {
  await open(facts, page.frame ? page.frame.index : 0);
  document.body.dataset.version = String(Number(document.body.dataset.version || 0) + 1);
}

function trouble(text) {
  const box = document.getElementById("trouble");
  box.hidden = !text;
  box.textContent = text || "";
}

opened.then(() => {
  trouble(page.facts.trouble || "");
  return follow(page.facts.version);
});
