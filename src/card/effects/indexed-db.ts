/** The browser's database, in promises. */

/** @param create - makes what a new database holds */
export const openDatabase = (name: string, create: (database: IDBDatabase) => void): Promise<IDBDatabase> => {
  const opening = indexedDB.open(name, 1)
  opening.onupgradeneeded = () => create(opening.result)
  return answerOf(opening)
}

export const answerOf = <T>(request: IDBRequest<T>): Promise<T> =>
  new Promise((done, failed) => {
    request.onsuccess = () => done(request.result)
    request.onerror = () => failed(request.error)
  })

/** @throws DOMException where the database did not take it, as when the disk is full */
export const ended = (transaction: IDBTransaction): Promise<void> =>
  new Promise((done, failed) => {
    transaction.oncomplete = () => done()
    transaction.onabort = transaction.onerror = () => failed(transaction.error)
  })
