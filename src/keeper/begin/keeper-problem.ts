/** Why a keeper cannot begin or must end, beside what is wrong with its store; the message is a sentence for the person. */
export class KeeperProblem extends Error {}
