// What was entered on this tablet and is not acknowledged by the shop yet, in the order in which it was entered.
"use strict";

const Entries = (() => {
  let opened = null;

  function answered(asked) {
    return new Promise((resolve, reject) => {
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });
  }

  function open() {
    if (opened) return opened;
    const asked = indexedDB.open("loambook", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("entries", { keyPath: "number", autoIncrement: true }).createIndex("key", "key", { unique: true });
      asked.result.createObjectStore("facts");
    };
    opened = answered(asked);
    opened.catch(() => { opened = null; });
    return opened;
  }

  // Acknowledged only when it is on the disk: a tablet that is switched off now has it still.
  async function write(store, work) {
    const database = await open();
    return new Promise((resolve, reject) => {
      const transaction = database.transaction(store, "readwrite", { durability: "strict" });
      let found;
      transaction.oncomplete = () => resolve(found?.result);
      transaction.onabort = () => reject(transaction.error || new Error("not stored"));
      // What a request was refused for stands at the request: the transaction has no error of its own yet.
      transaction.onerror = (event) => reject(event.target.error);
      found = work(transaction.objectStore(store));
    });
  }

  async function read(store, work) {
    const database = await open();
    return answered(work(database.transaction(store).objectStore(store)));
  }

  return {
    canKeep: Boolean(window.indexedDB),
    add: (entry) => write("entries", (store) => store.add(entry)),
    put: (entry) => write("entries", (store) => store.put(entry)),
    remove: (number) => write("entries", (store) => store.delete(number)),
    all: () => read("entries", (store) => store.getAll()),
    one: (number) => read("entries", (store) => store.get(number)),
    ofKey: (key) => read("entries", (store) => store.index("key").get(key)),
    know: (name, value) => write("facts", (store) => store.put(value, name)),
    known: (name) => read("facts", (store) => store.get(name)),
    async forget() {
      await write("entries", (store) => store.clear());
      await write("facts", (store) => store.clear());
    },
  };
})();

// Who is at this page and on which tablet; the server writes it into every page.
function facts() {
  return document.getElementById("facts")?.dataset || {};
}
