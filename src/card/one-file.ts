// The one-file card. It exports nothing, so that it is a classic script and a module alike.
import './define.ts'
