/* Large pages wherever the system grants them, and one arena for all threads: what one gives back another takes up. */
const char *_rjem_malloc_conf = "thp:always,narenas:1,oversize_threshold:0,dirty_decay_ms:30000";
