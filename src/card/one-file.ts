// The one-file card exports nothing, so that the file is a classic script and a module alike.
import './define.ts'
